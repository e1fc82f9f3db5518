"""The pages for the person at the bench, from real plans: complete, in order, and on one page a pour."""

from __future__ import annotations

import re
from datetime import date
from io import BytesIO

import pdfplumber
import pytest

from claybed.actions.explaining import dotted, explained
from claybed.sheets import bench_sheet
from claybed.sheets.pour_pages import pour_pages
from claybed.sheets.workings import Workings, name_of, value_at
from tests.actions.planned import Planned

DAY = date(2026, 3, 14)
# Steps are read at arm's length.
LEAST_PT = 10.0


def rendered(planned: Planned, paper: str, us: bool) -> bytes:
    """The bench sheet of a plan with its own pictures."""
    drawn = {path.stem: path.read_bytes() for path in (planned.folder / "pictures").glob("*.png")}
    found: bytes = bench_sheet.render(
        planned.document,
        drawn,
        paper=paper,
        us_units=us,
        made_on=DAY,  # type: ignore[arg-type]
    )
    return found


@pytest.mark.parametrize(("paper", "us"), [("a4", False), ("us-letter", True)])
def test_each_pour_fits_its_page(planned: Planned, paper: str, us: bool) -> None:
    """All steps of a pour stand on its page in letters that can be read, none over another or over the
    foot.
    """
    pdf = rendered(planned, paper, us)
    count = len(planned.document["pours"])
    pages = pour_pages(planned.document, Workings(planned.document), us=us)
    with pdfplumber.open(BytesIO(pdf)) as read:
        for page, data in zip(read.pages[:count], pages, strict=True):
            text = re.sub(r"\s+", " ", page.extract_text())
            for step in data["steps"]:
                assert step["title"] in text
            letters = [c for c in page.chars if c["text"].strip()]
            places = [(round(c["x0"], 1), round(c["top"], 1)) for c in letters]
            assert len(places) == len(set(places))
            assert min(c["size"] for c in letters if c["size"] > 5.0) >= 5.0
            sizes = [c["size"] for c in letters if c["text"].isalpha()]
            assert sorted(sizes)[len(sizes) // 2] >= LEAST_PT - 0.01
            foot = page.search("page [0-9]+ of")[0]["top"]
            assert max(c["bottom"] for c in letters if c["top"] < foot - 2.0) < foot
        before = re.sub(r"\s+", " ", read.pages[count].extract_text())
        for title in ("Print and cut", "Have ready", "Lay the chart", "Make the object ready"):
            assert title in before
        # The forms share that page, or have one of their own; a mold of one piece is told without a break.
        behind = "\n".join(page.extract_text() for page in read.pages[count : count + 2])
        for title in ("The form of each pour", "If something is off", "Words"):
            assert title in behind
        after = [k for k, p in enumerate(read.pages) if "The pieces" in p.extract_text().split("\n")]
        assert after and after[0] in (count, count + 1, count + 2)


def test_steps_follow_the_work(planned: Planned) -> None:
    """The form stands before it is released and measured, then plaster is mixed, then poured; the last page
    ends at the scale.
    """
    pages = pour_pages(planned.document, Workings(planned.document), us=False)
    for page in pages:
        titles = [step["title"] for step in page["steps"]]
        order = ["Set up the form", "Release", "Mark and measure", "Weigh and mix", "Pour"]
        assert [t for t in titles if t in order] == order
    first, last = ([step["title"] for step in pages[k]["steps"]] for k in (0, -1))
    assert first[:2] == ["Get ready", "Set the pose"]
    assert last[-3:] == ["Take the form off, mark it", "Open the mold", "Weigh and dry"]
    if len(pages) == 2:
        bed = [first.index(t) for t in ("Set the pose", "Draw the seam", "Build the bed", "Set up the form")]
        assert bed == sorted(bed)
        assert last[:3] == ["Take the form off", "Turn it over", "Clean"]


def test_heights_of_the_pose_are_on_the_page(planned: Planned) -> None:
    """With a bed, landmarks with room to write and the bed's height from board and straightedge are told."""
    pose = planned.document["pose"]
    steps = {
        s["title"]: s for s in pour_pages(planned.document, Workings(planned.document), us=False)[0]["steps"]
    }
    if pose["on_board"]:
        assert "open face down" in " ".join(steps["Set the pose"]["says"])
        assert "Build the bed" not in steps
        return
    rows = steps["Set the pose"]["landmarks"]
    assert len(rows) >= 3
    assert [row[1] for row in rows] == [f"{round(m['height_mm'])} mm" for m in pose["landmarks"]]
    bed = " ".join(steps["Build the bed"]["says"])
    edge = [s for s in pose["stations"] if s["at_form"]]
    assert f"{round(min(s['bed_mm'] for s in edge))} mm" in bed
    assert "straightedge" in bed
    stray = " ".join(steps["Draw the seam"]["says"])
    assert "may stray" in stray


def test_the_second_pour_says_that_it_needs_higher_sides(planned: Planned) -> None:
    """Where the second form is higher than the first, the page says by how much before the form is set up."""
    pours = planned.document["pours"]
    pages = pour_pages(planned.document, Workings(planned.document), us=False)
    if len(pours) < 2:
        assert len(pages) == 1
        return
    more = pours[1]["form"]["height_least_mm"] - pours[0]["form"]["height_least_mm"]
    form = next(s for s in pages[1]["steps"] if s["title"] == "Set up the form")
    assert more > 0.5
    assert f"{round(more)} mm more than the first" in form["says"][0]


def test_keys_lead_to_workings(planned: Planned) -> None:
    """Every key on the bench pages is a row in the list, with the plan's own value, formula and source."""
    workings = Workings(planned.document)
    pages = pour_pages(planned.document, workings, us=False)
    keys = {fact[2] for page in pages for fact in page["facts"]} - {""}
    rows = {row["key"]: row for row in workings.rows()}
    assert keys and keys <= set(rows)
    for row in rows.values():
        assert row["formula"] and row["source"] and row["value"]
    water = Workings(planned.document)
    assert water.key("/pours/0/water_g") == "1" and water.key("/nowhere") == ""
    assert water.key("/pours/0/water_g") == "1"
    first = planned.document["pours"][0]
    assert name_of(planned.document, "/pours/0/water_g") == f"pours.{first['piece']}.water_g"
    for pointer in planned.document["figures"]:
        assert name_of(planned.document, pointer) == dotted(planned.document, pointer)
    assert value_at(planned.document, "/pours/0/water_g") == first["water_g"]


def test_every_key_is_answered(planned: Planned) -> None:
    """Each step that tells a number carries keys, and `why` tells the same value with formula and source for
    every figure that a key stands for.
    """
    document = planned.document
    workings = Workings(document)
    pages = pour_pages(document, workings, us=False)
    for step in (step for page in pages for step in page["steps"]):
        if re.search(r"[0-9] (mm|g|kg|l|°C|minutes|hours|days)\b", " ".join(step["says"])):
            assert step["keys"], step["title"]
    stood_for = workings.pointers()
    assert [row["key"] for row in workings.rows()] == list(stood_for)
    for pointers in stood_for.values():
        for pointer in pointers:
            told = explained(document, dotted(document, pointer))
            assert told["value"] == value_at(document, pointer)
            assert told["formula"] and told["source"]["text"]


def test_templates_lie_in_the_folder(planned: Planned) -> None:
    """Each template is there as SVG and as DXF, and all are in the PDF that is printed."""
    names = {path.stem for path in (planned.folder / "templates").glob("*.svg")}
    assert names == {path.stem for path in (planned.folder / "templates").glob("*.dxf")}
    assert "chart" in names
    saddles = {f"saddle-{s['id']}" for s in planned.document["pose"]["saddles"]}
    assert saddles <= names
    assert (planned.folder / "sheets" / "templates.pdf").read_bytes().startswith(b"%PDF")
