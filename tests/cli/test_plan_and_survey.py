"""`claybed plan` and `claybed survey`: what they ask for, write, show and return."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import pytest
from cli_targets import survey_part

from claybed.actions.asking import OPTIONS
from claybed.cli.output import stopping
from claybed.cli.planning import leaving_line, next_words, remedied
from claybed.records.brief import Brief, KeepOut

Run = Callable[..., Any]

# What is never typed for one plan: it comes from the studio's file.
ONLY_KEPT = {"clays", "boards", "bands", "scale_step_g", "bench_mm", "shelf_mm"}
ASKED: dict[str, tuple[tuple[str, ...], object]] = {
    "unit": (("--unit", "CM"), "cm"),
    "height_mm": (("--height", "18cm"), 180.0),
    "mouth": (("--mouth",), True),
    "close_holes": (("--close-holes",), True),
    "mass_g": (("--mass", "2.75 lb"), 2.75 * 453.59237),
    "body": (("--body", "2"), 2),
    "up": (("--up", "y"), (0.0, 1.0, 0.0)),
    "clay": (("--clay", "stoneware"), "stoneware"),
    "slip": (("--slip", "yard"), "yard"),
    "fired_height_mm": (("--fired-height", "12cm"), 120.0),
    "fired_capacity_ml": (("--fired-capacity", "350ml"), 350.0),
    "expansion_fraction": (("--expansion", "0.2%"), 0.002),
    "generations": (("--generations", "3"), 3),
    "max_triangles": (("--max-triangles", "1000"), 1000),
    "axis": (("--axis", "-z"), (0.0, 0.0, -1.0)),
    "flat_seam": (("--flat-seam",), True),
    "keep_out": (
        ("--keep-out", "z>=20mm", "--keep-out", "1cm<=x<=3cm"),
        (KeepOut((0.0, 0.0, 1.0), 20.0, math.inf), KeepOut((1.0, 0.0, 0.0), 10.0, 30.0)),
    ),
    "max_fill_ml": (("--max-fill", "0.02L"), 20.0),
    "pose_tolerance_deg": (("--pose-tolerance", "1.5"), 1.5),
    "pieces": (("--pieces", "1"), 1),
    "shape": (("--shape", "round"), "round"),
    "use": (("--use", "press"), "press"),
    "wall_mm": (("--wall", "1 1/2 in"), 1.5 * 25.4),
    "ware_wall_mm": (("--ware-wall", "5mm"), 5.0),
    "gate": (("--gate", "none"), "none"),
    "gate_bore_mm": (("--gate-bore", "3cm"), 30.0),
    "keys": (("--no-keys",), False),
    "consistency": (("--ratio", "70"), 70.0),
    "waste": (("--waste", "3%"), 0.03),
    "form": (("--form", "boards"), "boards"),
    "bucket_l": (("--bucket", "4L"), 4.0),
    "plaster": (("--plaster", "gypsum cement"), "gypsum_cement"),
    "lift_kg": (("--lift", "12kg"), 12.0),
    "drills": (("--drills", "3"), 3),
    "mixing": (("--mixing", "hand"), "hand"),
    "release": (("--release", "wax"), "wax"),
    "lifter": (("--lifter", "school"), "school"),
    "water_celsius": (("--water", "50F"), 10.0),
    "porous": (("--porous",), True),
    "hollow_ml": (("--hollow", "0.3L"), 300.0),
    "made_of": (("--made-of", "oil-clay"), "oil_clay"),
    "second_pour": (("--second-pour", "soaked"), "soaked"),
}


def test_every_field_of_the_brief_can_be_asked_for() -> None:
    """Options and fields of the Brief are one to one, but for what only the studio's file can say, and an
    open mold, which is several fields at once.
    """
    names = {field.name for field in fields(Brief)} - ONLY_KEPT - {"hump"}
    assert set(OPTIONS) == names | {"open"}
    assert set(ASKED) == names
    assert len(set(OPTIONS.values())) == len(OPTIONS)


@pytest.mark.parametrize("kind", ["block", "hump"])
def test_an_open_mold_is_one_piece_for_pressing(run: Run, kind: str) -> None:
    """`--open` reaches the plan as one piece to press, a hump where that was asked, and nothing else."""
    outcome = run("plan", "jug.stl", "--open", kind, "--json", target="echo")
    assert outcome.code == 0, outcome.err
    asked = Brief(pieces=1, use="press", hump=kind == "hump")
    assert json.loads(outcome.out)["asked"]["brief"] == repr(asked)


@pytest.mark.parametrize("name", ASKED)
def test_an_option_changes_its_field_alone(run: Run, name: str) -> None:
    """Each option reaches its field of the Brief and leaves every other at its default."""
    words, value = ASKED[name]
    assert words[0] == OPTIONS[name]
    outcome = run("plan", "jug.stl", *words, "--json", target="echo")
    assert outcome.code == 0, outcome.err
    expected = replace(Brief(), **{name: value})
    assert expected != Brief()
    assert json.loads(outcome.out)["asked"]["brief"] == repr(expected)


def test_body_takes_a_number_and_a_name(run: Run) -> None:
    """--body 2 picks a body of the file, --body stoneware names the clay, and twice the same is refused."""
    outcome = run("plan", "jug.stl", "--body", "2", "--body", "stoneware", "--json", target="echo")
    assert json.loads(outcome.out)["asked"]["brief"] == repr(Brief(body=2, clay="stoneware"))
    assert run("plan", "jug.stl", "--body", "stoneware", "--clay", "porcelain").code == 2
    assert run("plan", "jug.stl", "--body", "1", "--body", "2").code == 2


def test_ready_plan_is_written_and_shown(run: Run, tmp_path: Path) -> None:
    """A ready plan ends with 0, is in its folder, and shows weights, findings and the next command."""
    (tmp_path / "made").mkdir()
    outcome = run("plan", "jug.stl", "--out", "made/jug.claybed")
    assert (outcome.code, outcome.err) == (0, "")
    assert (tmp_path / "made" / "jug.claybed" / "plan.json").exists()
    lines = outcome.out.splitlines()
    assert "Leaves in two pieces along x of the file once 12 ml (19 g) of oil clay closes one gap." in lines
    row = next(line.split() for line in lines if line.startswith("A "))
    assert row == [
        "A",
        "to",
        "the",
        "right",
        "1.555",
        "kg",
        "2.025",
        "kg",
        "1",
        "62",
        "mm",
        "12",
        "mm",
        "3.255",
        "kg",
        "2.185",
        "kg",
    ]
    assert "Look: Oil clay closes the gap under the handle. Smooth it flush with the handle." in lines
    assert "Ready to pour: two checks hold." in lines
    assert "Print made/jug.claybed/sheets/bench.pdf at 100 %." in lines
    assert lines[-1] == "Next: claybed why made/jug.claybed pours.A.plaster_g"
    assert any(line.startswith("The axis x is told of the object") for line in lines)


def test_folder_is_named_after_the_file_unless_told(run: Run, tmp_path: Path) -> None:
    """Without --out the plan goes into NAME.claybed in the working folder."""
    assert run("plan", "jug.stl").code == 0
    assert (tmp_path / "jug.claybed" / "plan.json").exists()


def test_plan_that_must_not_be_poured_says_why(run: Run, tmp_path: Path) -> None:
    """Exit 4: the plan is written, and every reason is shown with place and remedy."""
    outcome = run("plan", "jug.stl", "--out", "jug.claybed", target="not_ready")
    assert outcome.code == 4
    assert (tmp_path / "jug.claybed" / "plan.json").exists()
    lines = outcome.out.splitlines()
    assert "Not ready to pour: Piece B is 31 kg wet. Split it, or plan two people." in lines
    thin = (
        "“Plaster is thick enough all round” does not hold: 24.5 mm at the shoulder, where it takes at least "
        "30 mm. Widen the block."
    )
    assert f"Not ready to pour: {thin}" in lines
    assert "1 of 2 checks hold." in lines
    assert not any(line.startswith("Ready") for line in lines)
    assert run("plan", "jug.stl", "--out", "jug.claybed", "--replace", "--json", target="not_ready").code == 4


def test_next_command_of_a_plan_that_is_not_ready(run: Run) -> None:
    """The last line repeats what was asked, with the option that the remedy names in place of the old one."""
    words = ("plan", "jug.stl", "--height", "18 cm", "--wall", "2cm", "--keep-out", "z>=20", "--no-keys")
    outcome = run(*words, target="wall_wanted")
    assert outcome.out.splitlines()[-1] == (
        "Next: claybed plan jug.stl --height '18 cm' --keep-out 'z>=20' --no-keys --wall 36mm "
        "--out jug.claybed --replace"
    )
    plain = run("plan", "jug.stl", "--height", "18cm", "--wall", "2cm", "--replace", target="not_ready")
    assert plain.out.splitlines()[-1] == "Next: claybed survey jug.stl --height 18cm"


def test_plan_that_cannot_be_made_leaves_nothing(run: Run, tmp_path: Path) -> None:
    """Exit 3: one line with where, what and what to do, and no file is left."""
    outcome = run("plan", "jug.stl", "--out", "jug.claybed", target="refuse")
    assert outcome.code == 3
    assert outcome.out == ""
    assert outcome.err == "claybed: jug.stl: needs three pieces. Give another axis.\n"
    assert [path.name for path in tmp_path.iterdir()] == ["jug.stl"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "takes 44 ml in gaps 8.6 mm deep."),
        (("--units", "us"), "takes 1.5 fl oz in gaps 11/32 in deep."),
        (("--units=us",), "takes 1.5 fl oz in gaps 11/32 in deep."),
    ],
)
def test_a_refusal_is_in_the_units_asked_for(run: Run, words: tuple[str, ...], said: str) -> None:
    """Volumes and depths turn to US units; the option to type stays as it is understood."""
    outcome = run("plan", "jug.stl", *words, target="refuse_fill")
    assert outcome.code == 3
    assert outcome.err == f"claybed: jug: {said} Use --max-fill 46.5ml.\n"


def test_earlier_plan_is_replaced_only_when_asked(run: Run) -> None:
    """A folder that is there is refused with the option to type, before any work."""
    assert run("plan", "jug.stl").code == 0
    refused = run("plan", "jug.stl", target="linger")
    assert refused.code == 2
    assert "--replace" in refused.err
    assert run("plan", "jug.stl", "--replace").code == 0


def test_a_folder_in_a_folder_that_is_not_there_is_refused(run: Run, tmp_path: Path) -> None:
    """A slip of the pen in --out makes no folders, and is told before any work."""
    outcome = run("plan", "jug.stl", "--out", "nowhere/x.claybed", target="linger")
    assert outcome.code == 2
    assert "the folder it goes into does not exist" in outcome.err
    assert [path.name for path in tmp_path.iterdir()] == ["jug.stl"]


@pytest.mark.parametrize("words", [("--plaster", "cement"), ("--body", "stonewear")])
def test_a_wrong_name_is_told_before_a_folder_that_is_in_the_way(run: Run, words: tuple[str, ...]) -> None:
    """Clearing the way for a plan that would be refused anyway is work for nothing."""
    assert run("plan", "jug.stl").code == 0
    refused = run("plan", "jug.stl", *words)
    assert refused.code == 2
    assert refused.err.startswith(f"claybed: {words[0]}: ")
    assert "already there" not in refused.err


def test_json_is_the_document_unrounded(run: Run) -> None:
    """--json prints the document and nothing else."""
    outcome = run("plan", "jug.stl", "--json")
    document = json.loads(outcome.out)
    assert document["pours"][0]["water_g"] == 1557.14
    assert document["ready"] is True


def test_us_units_are_shown_when_asked(run: Run) -> None:
    """--units us shows inches, pounds and quarts, and no metric unit in the table."""
    outcome = run("plan", "jug.stl", "--units", "us")
    row = next(line for line in outcome.out.splitlines() if line.startswith("A "))
    assert "lb" in row
    assert "in" in row.split()
    assert "kg" not in row
    assert "mm" not in row


def test_sentences_turn_to_us_units_with_the_table(run: Run) -> None:
    """Findings, failed checks and remedies are in inches and pounds as well, options stay as typed."""
    outcome = run("plan", "jug.stl", "--units", "us", target="wall_wanted")
    stops = [line for line in outcome.out.splitlines() if line.startswith("Not ready")]
    assert stops == [
        "Not ready to pour: Piece B is 68 lb 5.5 oz wet. Split it, or plan two people.",
        "Not ready to pour: “Plaster is thick enough all round” does not hold: 0.9646 in at the shoulder, "
        "where it takes at least 1.181 in. Ask for --wall 36mm.",
    ]


def test_a_vessel_that_is_not_ready_is_told_of_its_mouth_first() -> None:
    """What most of its faults come from leads the reasons and the command to try next."""
    inside = {"id": "hollow_ware", "severity": "look", "says": "It holds 43 ml.", "remedy": "Add --mouth."}
    heavy = {"id": "lift_over_limit", "severity": "stop", "says": "B is heavy.", "remedy": "Say --wall 30mm."}
    document = {"ready": False, "findings": [heavy, inside], "checks": []}
    assert stopping(document["findings"]) == [inside, heavy]
    assert stopping([heavy]) == [heavy]
    words = next_words(document, Path("jug.stl"), Path("jug.claybed"), {"pieces": 3})
    assert words[:6] == ["claybed", "plan", "jug.stl", "--pieces", "3", "--mouth"]


@pytest.mark.parametrize(
    ("remedy", "options"),
    [
        ("Put it where it is thicker, with --gate and a direction.", None),
        ("Ask for --pieces or another pull.", None),
        ("Say --gate 0.6,-0.8,0.", ["--gate", "0.6,-0.8,0"]),
        (
            "Make it narrower with --gate-bore 12mm --ware-wall 3mm.",
            ["--gate-bore", "12mm", "--ware-wall", "3mm"],
        ),
    ],
)
def test_a_word_behind_an_option_is_no_value_of_it(remedy: str, options: list[str] | None) -> None:
    """What the command itself would not read is not proposed as a command."""
    assert remedied({}, remedy) == options


@pytest.mark.parametrize(
    ("remedy", "last"),
    [
        ("Allow it with --max-fill 13.1ml.", "plan jug.stl --pieces 1 --max-fill 13.1ml --out jug.claybed"),
        (
            "Mend it, or take two pieces with --pieces 2 --max-fill 37.2ml; or leave --up out.",
            "plan jug.stl --pieces 2 --max-fill 37.2ml --out jug.claybed",
        ),
        ("Add --mouth for a vessel, or leave --pieces out.", "survey jug.stl --pieces 1 --mouth"),
        ("It needs a flat face: leave --pieces out.", "survey jug.stl"),
    ],
)
def test_a_survey_never_suggests_a_plan_that_would_be_refused(
    run: Run, tmp_path: Path, remedy: str, last: str
) -> None:
    """What a plan would be refused for is told, and the last line is the way round it."""
    (tmp_path / "jug.stl").write_text(remedy)
    outcome = run("survey", "jug.stl", "--pieces", "1", target="survey_refused")
    lines = outcome.out.splitlines()
    assert "A plan of it as asked would be refused: needs more." in lines
    assert remedy in lines
    assert lines[-1] == f"Next: claybed {last}"


@pytest.mark.parametrize(
    ("change", "line"),
    [
        ({}, "Leaves in two pieces along x of the file once 12 ml (19 g) of oil clay closes one gap."),
        (
            {"fill_places": []},
            "Leaves in two pieces along x of the file once 12 ml (19 g) of oil clay closes what locks.",
        ),
        ({"castable": True, "fill_ml": 0.0}, "Leaves in two pieces along x of the file, nothing to fill."),
        (
            {"castable": True, "fill_ml": 0.3},
            "Leaves in two pieces along x of the file; 0.3 ml locks, shallow enough to scrape off the first "
            "piece.",
        ),
        (
            {"castable": True, "fill_ml": 0.0, "options": [{"kind": "one_piece"}], "axis": [0.0, 0.6, 0.8]},
            "Leaves from one piece along 0,0.6,0.8 of the file, nothing to fill.",
        ),
    ],
)
def test_one_sentence_says_how_it_leaves(change: dict[str, object], line: str) -> None:
    """The sentence follows what was found: nothing, something to scrape, or something to fill."""
    document = survey_part()
    document["survey"] |= change
    assert leaving_line(document, us=False) == line


def test_survey_is_shown(run: Run, tmp_path: Path) -> None:
    """A survey shows axes and findings, writes nothing, and names the plan to make next."""
    outcome = run("survey", "jug.stl", "--axis", "x", target="surveyed")
    assert outcome.code == 0
    lines = outcome.out.splitlines()
    row = next(line.split() for line in lines if line.startswith("x "))
    assert row == ["x", "flat", "patch", "12", "ml", "6.1", "mm", "after", "filling"]
    assert lines[-1] == "Next: claybed plan jug.stl --axis x --out jug.claybed"
    assert [path.name for path in tmp_path.iterdir()] == ["jug.stl"]
    assert json.loads(run("survey", "jug.stl", "--json", target="surveyed").out)["survey"]["fill_ml"] == 12.4


def test_an_open_block_is_told_with_the_command_to_press_in_it(run: Run) -> None:
    """A survey that finds one open block says so and how it is planned to press; none does of a jug."""
    out = run("survey", "jug.stl", "--mouth", target="surveyed_open").out
    assert "Leaves a single block through its open face." in out
    assert "Or: Two." in out
    assert "To press or slump it: claybed plan jug.stl --mouth --pieces 1 --use press" in out.splitlines()
    assert "To press" not in run("survey", "jug.stl", target="surveyed").out
