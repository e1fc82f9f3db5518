"""The pages for the person at the bench, from real plans: complete, in order, and on one page a pour."""

from __future__ import annotations

import re
from datetime import date
from io import BytesIO

import pdfplumber
import pytest

from claybed.actions.explaining import dotted, explained
from claybed.sheets import bench_sheet
from claybed.sheets.getting_ready import getting_ready
from claybed.sheets.pour_pages import pour_pages
from claybed.sheets.pour_words import per_mark
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
                assert step["later"] or step["title"] in text
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
        lines = [page.extract_text().split("\n") for page in read.pages]
        after = [k for k, told in enumerate(lines) if "The pieces" in told]
        lies = [k for k, told in enumerate(lines) if "The object as it lies" in told]
        assert after and after[0] in range(count, count + 4)
        assert len(lies) == (0 if planned.document["pose"]["on_board"] else 1)
        # What is done a day later has a place of its own, with every step of it.
        (day_after,) = (k for k, told in enumerate(lines) if "The day after" in told)
        held = re.sub(r"\s+", " ", read.pages[day_after].extract_text())
        assert all(step["title"] in held for step in pages[-1]["steps"] if step["later"])


def test_steps_follow_the_work(planned: Planned) -> None:
    """The form stands before it is released and measured, then plaster is mixed, then poured; the last page
    ends at the scale.
    """
    pages = pour_pages(planned.document, Workings(planned.document), us=False)
    for page in pages:
        titles = [step["title"] for step in page["steps"]]
        order = ["Set up the form", "Coat with release", "Mark and measure", "Weigh and mix", "Pour"]
        assert [t for t in titles if t in order] == order
    first, last = ([step["title"] for step in pages[k]["steps"]] for k in (0, -1))
    assert first[:2] == ["Get ready", "Set the pose"]
    assert last[-3:] == ["Take the form off, mark it", "Open the mold", "Weigh and dry"]
    if len(pages) == 2:
        bed = [first.index(t) for t in ("Set the pose", "Build the bed", "Set up the form")]
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
    for row, mark in zip(rows, pose["landmarks"], strict=True):
        low, high = (round(mark[end]) for end in ("low_mm", "high_mm"))
        blunt = mark["high_mm"] - mark["low_mm"] > 3.0
        assert row[1] == (f"{low} to {high} mm" if blunt else f"{round(mark['height_mm'])} mm")
        assert row[0].endswith(", flat") == mark["flat"]
    near = f"{pose['near_mm']:.2g} mm"
    assert f"{near} off is near enough" in " ".join(steps["Set the pose"]["says"])
    assert f"highest place again ({near})" in " ".join(steps["Build the bed"]["says"])
    bed = " ".join(steps["Build the bed"]["says"])
    edge = [s for s in pose["stations"] if s["at_form"]]
    assert f"{round(min(s['bed_mm'] for s in edge))} mm" in bed
    rim = pose["rim_mm"] - max(s["bed_mm"] for s in edge)
    form = " ".join(steps["Set up the form"]["says"])
    assert f"A straightedge laid on the rim must find the bed {round(rim)} mm" in form


def test_the_seam_is_drawn_before_the_coats(planned: Planned) -> None:
    """The day before, the object lies in its pose while the seam is drawn, and is coated after that: what to
    draw with, round what, and each station at which the line may hardly stray by its number.
    """
    before = getting_ready(planned.document, us=False, workings=Workings(planned.document))
    titles = [step["title"] for step in before["steps"]]
    assert "Coat the object" in titles
    pose = planned.document["pose"]
    if pose["on_board"]:
        assert "Draw the seam" not in titles
        return
    assert (
        titles.index("Make the object ready")
        < titles.index("Draw the seam")
        < titles.index("Coat the object")
    )
    seam = next(step for step in before["steps"] if step["title"] == "Draw the seam")
    says = " ".join(seam["says"])
    assert "china marker" in says and seam["keys"]
    stray = {s["number"]: min(s["stray_up_mm"], s["stray_down_mm"]) for s in pose["stations"]}
    strictest = min(stray, key=stray.__getitem__)
    usual = float(re.findall(r"may stray ([0-9.]+) mm", says)[0])
    named = {int(n) for n in re.findall("at station ([0-9]+)", says)}
    assert strictest in named or stray[strictest] > usual - 0.1
    assert sum(mm < usual - 0.1 for n, mm in stray.items() if n not in named) == 0
    inner = [
        n
        for n in {s["line"] for s in pose["stations"]}
        if not any(s["at_form"] for s in pose["stations"] if s["line"] == n)
    ]
    bed = " ".join(
        next(
            s
            for s in pour_pages(planned.document, Workings(planned.document), us=False)[0]["steps"]
            if s["title"] == "Build the bed"
        )["says"]
    )
    assert ("Fill the opening" in bed) == bool(inner)


def test_a_form_of_another_size_is_answered_on_paper(planned: Planned) -> None:
    """For every pour paper tells what a millimetre more each way takes: as the form's own walls are high, and
    as its plan is wide.
    """
    for pour in planned.document["pours"]:
        rows = per_mark(pour, us=False)
        form, per_mm = pour["form"], pour["grams_per_mm"]
        assert len(rows) == len(form["inside_mm"]) + 1
        assert rows[-1][2:] == [f"{per_mm['water']:.0f} g", f"{per_mm['plaster']:.0f} g"]
        if len(form["inside_mm"]) == 2:
            # One millimetre from left to right is a slab as long as the other side, as tall as the pour.
            slab_mm3 = form["inside_mm"][1] * form["depth_mm"]
            water_g = per_mm["water"] / form["footprint_mm2"] * slab_mm3
            assert rows[0][2] == f"{water_g:.0f} g"


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


def test_alike_workings_are_told_once(planned: Planned) -> None:
    """Of figures that come about in the same way the first tells its formula, the others point at it and tell
    only what differs.
    """
    workings = Workings(planned.document)
    pour_pages(planned.document, workings, us=False)
    rows = {row["key"]: row for row in workings.rows()}
    pointing = [row for row in rows.values() if row["formula"].startswith("as [")]
    assert pointing or len(planned.document["pours"]) == 1
    for row in pointing:
        first = rows[row["formula"][4:-1]]
        assert int(first["key"]) < int(row["key"]) and not first["formula"].startswith("as [")
        assert first["name"].rpartition(".")[2] == row["name"].rpartition(".")[2]
