"""What stages say, in the words of the pages: controls by their labels, bare numbers in the units shown."""

from __future__ import annotations

import ast
import re
from pathlib import Path

from fastapi.testclient import TestClient

import claybed
from claybed.actions.asking import OPTIONS, brief_from
from claybed.flow.course import run_survey
from claybed.flow.document import survey_document
from claybed.flow.store import NoStore
from claybed.records.brief import Brief
from claybed.register import entering, keeping
from claybed.web.page_words import CONTROLS, on_the_page
from claybed.web.rendering import figure, with_units
from tests.pieces import solids
from tests.survey.objects import measured
from tests.web.app_client import NOW, entered_mold

SOURCE = Path(claybed.__file__).parent
ASIDE = ("cli", "web")


def sentences() -> list[str]:
    """Every text of the stages that names an option of the command line."""
    said = []
    for file in sorted(SOURCE.rglob("*.py")):
        if file.relative_to(SOURCE).parts[0] in ASIDE:
            continue
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and "--" in node.value:
                said.append(node.value)
    return said


def test_no_page_names_an_option_of_the_command_line() -> None:
    """Whatever a stage says, no option is left in it once it stands on a page."""
    said = sentences()
    assert len(said) > 150
    assert [text for text in said if re.search(r"--[a-z]", on_the_page(text))] == []


def test_what_names_no_option_is_left_alone() -> None:
    """A sentence without options is said as it was, dashes and all."""
    for text in ("Wall 4 mm -- no more.", "Press it in before the bed is built.", "5-10 %"):
        assert on_the_page(text) == text


def test_controls_that_are_named_stand_on_a_page() -> None:
    """A label that a sentence points to is the label of a control in some template."""
    pages = "".join(p.read_text("utf-8") for p in (SOURCE / "web" / "templates").glob("*.html"))
    missing = [label for label in CONTROLS.values() if not re.search(rf">\s*{re.escape(label)}\b", pages)]
    assert missing == []
    assert set(CONTROLS) <= {*OPTIONS.values(), "--k"}


def test_a_bare_number_has_the_unit_that_the_form_shows() -> None:
    """In US units 7 is 7 inches; with a unit of its own it is as typed, and in metric nothing changes."""
    typed = {"height_mm": "7", "mass_g": "11 oz", "lift_kg": "35", "use": "slip", "pieces": 2, "unit": "in"}
    brief = brief_from(with_units(typed, us=True))
    assert brief.height_mm == 7 * 25.4
    assert round(brief.lift_kg, 4) == round(35 * 0.45359237, 4)
    assert round(brief.mass_g or 0.0, 3) == round(11 * 28.349523125, 3)
    assert with_units(typed, us=False) == typed


def test_an_object_that_a_plan_would_be_refused_for_says_so(client: TestClient) -> None:
    """The object's page tells the refusal and the way round, in its own words."""
    brief = Brief(pieces=1)
    found = run_survey(lambda asked, told: measured(solids.crescent()), brief, "", NoStore(), lambda *_: None)
    document = survey_document(found, brief)
    assert "--" in document["refused"]["remedy"]
    with client.app.state.studio.register.writing() as db:  # type: ignore[attr-defined]
        thing = keeping.add_object(db, name="Moon", how="file", file="moon.stl", now=NOW, brief={"pieces": 1})
        keeping.note_survey(db, thing, document, "picture.png")
    page = client.get(f"/objects/{thing}").text
    assert "would be refused" in page
    assert "A hollow vessel" in page.partition("would be refused")[2].partition("</p>")[0]
    assert not re.search(r"\s--[a-z]", page)


def test_units_stand_smaller_beside_their_numbers() -> None:
    """Every unit of a figure is set small, also where there are two, and a fraction stays with its number."""
    cases = {
        "1 lb 7.1 oz": "1 <small>lb</small> 7.1 <small>oz</small>",
        "26 15/16 in": "26 15/16 <small>in</small>",
        "7.6 fl oz": "7.6 <small>fl oz</small>",
        "146 in²": "146 <small>in²</small>",
        "4.095 kg": "4.095 <small>kg</small>",
        "under 0.1 ml": "<small>under</small> 0.1 <small>ml</small>",
    }
    for text, shown in cases.items():
        assert str(figure(text)) == f"<span class=figure>{shown}</span>"
    assert str(figure("none")) == "none"
    assert "<script>" not in figure("1 <script>")


def test_a_wall_is_logged_in_the_units_that_are_shown(client: TestClient) -> None:
    """In US units a wall of an eighth of an inch is kept as 3.175 mm; in metric 3,1 is 3.1 mm."""
    mold = entered_mold(client)
    for system, typed in (("us", "1/8"), ("metric", "3,1")):
        client.post("/units", data={"system": system, "back": "/"})
        assert 'name="wall_mm"' in client.get(f"/molds/{mold}").text
        answer = client.post(f"/molds/{mold}/log", data={"what": "casting", "wall_mm": typed})
        assert answer.status_code == 303, answer.text
    with client.app.state.studio.register.reading() as db:  # type: ignore[attr-defined]
        walls = sorted(one["wall_mm"] for one in entering.entries(db, "casting", mold))
    assert walls == [3.1, 3.175]
