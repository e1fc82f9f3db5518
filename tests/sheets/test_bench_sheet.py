"""The bench sheet, read back from the PDF that would be printed."""

import re
from datetime import date
from io import BytesIO
from typing import Any

import pdfplumber
import pytest
from pypdf import PdfReader
from specimen import Specimen, plan

from claybed import __version__
from claybed.errors import InputError
from claybed.sheets import bench_sheet, pictures
from claybed.sheets.section import section
from claybed.units import say_mass

DAY = date(2026, 3, 14)
MM_PER_PT = 25.4 / 72.0
PAPERS = {"a4": (210.0, 297.0), "us-letter": (215.9, 279.4)}


@pytest.fixture(scope="module")
def drawn(bottle: Specimen) -> dict[str, bytes]:
    """The four pictures, small."""
    close = pictures.fill_close_up(bottle.model, width_px=300, height_px=240)
    assert close is not None
    return {
        "seam": pictures.as_png(
            pictures.object_with_seam(bottle.model, bottle.seam_loops_mm, width_px=400, height_px=300)
        ),
        "exploded": pictures.as_png(
            pictures.exploded(bottle.pieces, bottle.model, width_px=420, height_px=300)
        ),
        "fill": pictures.as_png(close),
        "section": pictures.as_png(section(bottle.pieces, bottle.model, width_px=300, height_px=240)),
    }


def words(pdf: bytes, page: int | None = None) -> str:
    """All text of the PDF or of one page (from 0), spaces made plain."""
    with pdfplumber.open(BytesIO(pdf)) as read:
        pages = read.pages if page is None else [read.pages[page]]
        text = "\n".join(p.extract_text() for p in pages)
    return re.sub(r"[\s\u2009\u00a0]+", " ", text)


def in_order(pdf: bytes, page: int) -> str:
    """The characters of a page (from 0) in the order they are set, without spaces."""
    with pdfplumber.open(BytesIO(pdf)) as read:
        return squeezed("".join(c["text"] for c in read.pages[page].chars))


def squeezed(text: str) -> str:
    """Without any space: units stand after a thin one that readers see differently."""
    return re.sub(r"[\s\u2009\u00a0]+", "", text)


def straight_lines_mm(pdf: bytes) -> tuple[list[float], list[float]]:
    """Lengths of level and upright lines on the page that tells how to print."""
    with pdfplumber.open(BytesIO(pdf)) as read:
        lines = next(p for p in read.pages if "Getting ready," in p.extract_text()).lines
        level = [(ln["x1"] - ln["x0"]) * MM_PER_PT for ln in lines if abs(ln["top"] - ln["bottom"]) < 0.01]
        upright = [(ln["bottom"] - ln["top"]) * MM_PER_PT for ln in lines if abs(ln["x1"] - ln["x0"]) < 0.01]
    return level, upright


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
@pytest.mark.parametrize("us_units", [False, True])
def test_check_bars_are_150_mm_in_both_directions(
    drawn: dict[str, bytes], paper: Any, us_units: bool
) -> None:
    """One level and one upright line measure 150.0 ± 0.1 mm, on paper of the size that was asked for."""
    pdf = bench_sheet.render(plan(), drawn, paper=paper, us_units=us_units, made_on=DAY)
    level, upright = straight_lines_mm(pdf)
    assert any(abs(v - 150.0) <= 0.1 for v in level)
    assert any(abs(v - 150.0) <= 0.1 for v in upright)
    with pdfplumber.open(BytesIO(pdf)) as read:
        for page in read.pages:
            assert (page.width * MM_PER_PT, page.height * MM_PER_PT) == pytest.approx(PAPERS[paper], abs=0.1)
            assert all(
                c["x0"] >= 0 and c["x1"] <= page.width and c["bottom"] <= page.height for c in page.chars
            )


@pytest.mark.parametrize("us_units", [False, True])
def test_each_pour_has_a_page_with_its_weights(drawn: dict[str, bytes], us_units: bool) -> None:
    """Water before plaster, the fill lines and the piece's weights stand on the page of their pour."""
    asked = plan()
    pdf = bench_sheet.render(asked, drawn, us_units=us_units, made_on=DAY)
    # 142 mm is 5 9/16 in: up and down on a rule add up to the rim.
    lines = [("43/8inup", "3/4indown"), ("51/8inup", "7/16indown")]
    if not us_units:
        lines = [("111mmup", "19mmdown"), ("130mmup", "12mmdown")]
    for k, (pour, piece) in enumerate(zip(asked["pours"], asked["pieces"], strict=True)):
        page = in_order(pdf, k)
        water, plaster = (squeezed(say_mass(pour[key], us=us_units)) for key in ("water_g", "plaster_g"))
        assert page.index(water) < page.index(plaster)
        for key in ("wet_kg", "dry_kg"):
            assert squeezed(say_mass(piece[key] * 1000.0, us=us_units)) in page
        for line in lines[k]:
            assert line in page


def test_the_weights_are_set_in_28_points(drawn: dict[str, bytes]) -> None:
    """The figures of water and plaster are printed 28 pt high, nothing else on their page is larger."""
    with pdfplumber.open(BytesIO(bench_sheet.render(plan(), drawn, made_on=DAY))) as read:
        for page, said in ((0, "1.3401.740"), (1, "1.3351.735")):
            large = [c for c in read.pages[page].chars if c["size"] > 27.9]
            assert max(c["size"] for c in large) == pytest.approx(28.0)
            assert squeezed("".join(c["text"] for c in large)) == said


def test_every_bucket_is_listed_with_its_weights(drawn: dict[str, bytes]) -> None:
    """Each batch's water and plaster, and the common rule beside it, are on the pages after the first."""
    asked = plan()
    text = squeezed(words(bench_sheet.render(asked, drawn, made_on=DAY)))
    for pour in asked["pours"]:
        for batch in pour["batches"]:
            assert squeezed(say_mass(batch["water_g"])) in text
            assert squeezed(say_mass(batch["plaster_g"])) in text
        assert squeezed(say_mass(pour["common_rule"]["plaster_g"])) in text


def test_ready_and_not_ready_are_plain(drawn: dict[str, bytes]) -> None:
    """A plan that must not be poured says so in capitals on every page, with the reason; a ready one never
    does."""
    good = bench_sheet.render(plan(), drawn, made_on=DAY)
    bad = bench_sheet.render(plan(ready=False), drawn, made_on=DAY)
    assert "Ready to pour" in words(good, 0)
    assert "NOT READY" not in words(good)
    assert "Ready to pour" not in words(bad)
    for k in range(len(PdfReader(BytesIO(bad)).pages)):
        assert "NOT READY TO POUR" in words(bad, k)
    assert "Split it, or plan two people." in words(bad, 0)
    assert "FAILS" in words(bad, 0)


def test_every_page_carries_name_date_version_and_number(drawn: dict[str, bytes]) -> None:
    """Loose pages can be put together again."""
    pdf = bench_sheet.render(plan(), drawn, made_on=DAY)
    count = len(PdfReader(BytesIO(pdf)).pages)
    assert count >= 2
    for k in range(count):
        text = words(pdf, k)
        assert "Small bottle" in text
        assert "2026-03-14" in text
        assert f"claybed {__version__}" in text
        assert f"page {k + 1} of {count}" in text


def test_viewers_are_asked_not_to_scale(drawn: dict[str, bytes]) -> None:
    """The print dialogue is told to leave the size alone."""
    root = PdfReader(BytesIO(bench_sheet.render(plan(), drawn, made_on=DAY))).trailer["/Root"]
    assert root["/ViewerPreferences"]["/PrintScaling"] == "/None"


def test_only_the_shipped_typeface_is_used_and_embedded(drawn: dict[str, bytes]) -> None:
    """Every font in the PDF is embedded and is the one that lies in the package."""
    seen = set()
    for page in PdfReader(BytesIO(bench_sheet.render(plan(), drawn, made_on=DAY))).pages:
        for font in page["/Resources"]["/Font"].values():
            inner = font.get_object()["/DescendantFonts"][0].get_object()
            what = inner["/FontDescriptor"].get_object()
            assert any(k in what for k in ("/FontFile2", "/FontFile3"))
            seen.add(str(inner["/BaseFont"]).split("+")[-1])
    assert seen and all(name.startswith("AtkinsonHyperlegibleNext") for name in seen)


def test_cautions_defer_and_never_promise(drawn: dict[str, bytes]) -> None:
    """Dust, heat, lifting and drains are named, other rules come first, and one word is never printed."""
    for asked in (plan(), plan(ready=False)):
        text = words(bench_sheet.render(asked, drawn, made_on=DAY))
        for need in (
            "mask",
            "into the water",
            "part of a body",
            "Lifting",
            "drain",
            "data sheets of your plaster",
        ):
            assert need in text
        assert not re.search(r"\bsafe(ly|ty)?\b", text, re.IGNORECASE)


def test_text_from_a_plan_is_never_read_as_markup(drawn: dict[str, bytes]) -> None:
    """A name full of the typesetter's own signs is printed as it stands."""
    asked = plan()
    asked["object"]["name"] = "#panic() $x$ *b* <tag> [k] \\n"
    assert "#panic() $x$ *b* <tag> [k] \\n" in words(bench_sheet.render(asked, drawn, made_on=DAY), 0)


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
@pytest.mark.parametrize("pours", [1, 2, 3, 4])
def test_each_pour_stays_on_one_page(drawn: dict[str, bytes], paper: Any, pours: int) -> None:
    """From one pour to four, with many checks failing, each has one page, and the page of getting ready, with
    the check bar, begins anew.
    """
    asked = plan(ready=False)
    asked["pours"] = [dict(asked["pours"][k % 2], piece="ABCD"[k]) for k in range(pours)]
    asked["pieces"] = [dict(asked["pieces"][k % 2], id="ABCD"[k], order=k + 1) for k in range(pours)]
    asked["checks"] = [
        dict(asked["checks"][k % 6], id=f"{asked['checks'][k % 6]['id']}_{k}") for k in range(18)
    ]
    pdf = bench_sheet.render(asked, drawn, paper=paper, made_on=DAY)
    assert "150 mm. Print at 100 %" in words(pdf, pours)
    for k in range(pours):
        assert f"Pour {k + 1} of {pours}" in words(pdf, k)
    assert words(pdf, pours).lstrip().startswith("Getting ready")
    nothing_overlaps_the_foot(pdf, pours)


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_steps_that_find_no_room_go_on_in_readable_letters(drawn: dict[str, bytes], paper: Any) -> None:
    """However much there is to tell, letters stay at 10 points or more: what finds no room goes on the next
    page, and the page says so.
    """
    asked = plan(ready=False)
    form = {"height_least_mm": 123.0, "how": "Board on board. " * 280, "coil_mm": 700.0, "leaks": ["Below."]}
    for pour in asked["pours"]:
        pour["form"] = form
    pdf = bench_sheet.render(asked, drawn, paper=paper, made_on=DAY)
    with pdfplumber.open(BytesIO(pdf)) as read:
        text = "\n".join(page.extract_text() for page in read.pages[:2])
        assert re.search(r"Steps? [0-9]+ to [0-9]+ are on the next page", text)
        assert "Pour 1 of 2" in read.pages[1].extract_text()
        assert "Weigh and mix" in text
        for page in read.pages[:2]:
            first = page.search(r"[0-9]+ (Get ready|Set up the form|Weigh and mix)")[0]["top"]
            foot = page.search("page [0-9]+ of")[0]["top"]
            steps = [c for c in page.chars if c["text"].isalpha() and first <= c["top"] < foot - 2.0]
            sizes = sorted(c["size"] for c in steps)
            assert sizes[len(sizes) // 2] >= 9.99
            assert max(c["bottom"] for c in page.chars) <= page.height


def nothing_overlaps_the_foot(pdf: bytes, pages: int) -> None:
    """The steps end above the line about the checks, and no line of text is set over another."""
    with pdfplumber.open(BytesIO(pdf)) as read:
        for page in read.pages[:pages]:
            foot = page.search("page [0-9]+ of")[0]["top"]
            told = page.search("checks")[-1]["top"]
            assert told < foot
            places = [(round(c["x0"], 1), round(c["top"], 1)) for c in page.chars if c["text"].strip()]
            assert len(places) == len(set(places))
            steps = [c["bottom"] for c in page.chars if c["top"] < told - 1.0]
            assert max(steps) <= told + 1.0


def test_a_plan_without_pictures_still_prints() -> None:
    """Figures are what is needed at the bench; a missing picture leaves a gap and nothing else."""
    assert "1.340kg" in in_order(bench_sheet.render(plan(), {}, made_on=DAY), 0)


def test_long_names_and_round_molds_fit(drawn: dict[str, bytes]) -> None:
    """A round form prints diameter and height; a very long name wraps within the page."""
    asked = plan()
    asked["mold"] |= {"shape": "round", "outer_mm": [182.4, 140.0], "keys": [], "gate": None}
    asked["object"]["name"] = (
        "Grandmother's tall narrow vase with the handle that was mended twice, third scan of the spring"
    )
    text = words(bench_sheet.render(asked, drawn, made_on=DAY), 0)
    assert "Ø 182" in text
    assert "third scan" in text


def test_what_cannot_be_written_is_said(drawn: dict[str, bytes]) -> None:
    """A plan without pours, an unknown paper and an unknown picture are refused in one line each."""
    broken = plan()
    del broken["pours"]
    with pytest.raises(InputError, match="pours"):
        bench_sheet.render(broken, drawn)
    with pytest.raises(InputError, match="a4"):
        bench_sheet.render(plan(), drawn, paper="a3")  # type: ignore[arg-type]
    with pytest.raises(InputError, match="portrait"):
        bench_sheet.render(plan(), {"portrait": b""})


def test_the_same_plan_gives_the_same_pages(drawn: dict[str, bytes]) -> None:
    """Nothing in the sheet depends on the hour it was made."""
    one, two = (bench_sheet.render(plan(), drawn, made_on=DAY) for _ in range(2))
    assert one == two
