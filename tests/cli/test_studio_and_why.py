"""`claybed studio`, `claybed why` and `claybed mix --plan`: what they print, write and refuse."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.actions.test_as_built import plan

Run = Callable[..., Any]
GIVEN = (
    "studio", "init", "--name", "Ninepin Yard", "--boards", "4 600x200x18mm ply", "--band", "1500x300mm",
    "--bucket", "2 10L", "--ratio", "1:1.35", "--person", "Ros: staff", "--scale", "5g", "--lot", "4471",
)  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with as much of a plan as these commands read."""
    found = tmp_path / "ball.claybed"
    found.mkdir()
    figure = {"unit": "g", "formula": "slurry / densities", "source": "usg-table", "low": None, "high": None}
    document = plan() | {
        "schema": "claybed-plan-1",
        "figures": {"/pours/0/plaster_g": figure | {"inputs": {"water_density_g_per_ml": 0.998}}},
    }
    document["pours"][0]["common_rule"] = {"water_g": 2195.0, "plaster_g": 2853.0}
    (found / "plan.json").write_text(json.dumps(document))
    return found


def test_a_studio_is_written_shown_and_found(run: Run, tmp_path: Path) -> None:
    """Init writes the user's own file, show prints it, and a second init does not write over it."""
    first = run(*GIVEN)
    assert (first.code, first.err) == (0, "")
    path = tmp_path / "config" / "claybed" / "studio.toml"
    assert path.is_file() and str(path) in first.out
    assert first.out.splitlines()[-1].startswith("Next: claybed plan")
    shown = run("studio", "show")
    assert "4 of 600 mm × 200 mm × 18 mm, ply" in shown.out
    assert json.loads(run("studio", "show", "--json").out)["plasters"][0]["lot"] == "4471"
    again = run(*GIVEN)
    assert again.code == 2 and "--replace" in again.err
    assert run(*GIVEN, "--replace").code == 0


def test_a_plan_uses_the_studio(run: Run) -> None:
    """The brief of a plan carries the studio's boards and ratio, and what is typed wins."""
    assert run(*GIVEN, "--out", "ours.toml").code == 0
    with_file = run("plan", "jug.stl", "--studio", "ours.toml", "--json", target="echo")
    brief = json.loads(with_file.out)["asked"]["brief"]
    assert "length_mm=600.0" in brief and "consistency=74.07" in brief and "bucket_l=6.5" in brief
    typed = run(
        "plan", "jug.stl", "--studio", "ours.toml", "--ratio", "70", "--replace", "--json", target="echo"
    )
    assert "consistency=70.0" in json.loads(typed.out)["asked"]["brief"]
    none = run("plan", "jug.stl", "--studio", "none.toml", "--json", target="echo")
    assert none.code == 2 and "claybed studio init" in none.err


def test_a_studio_in_us_units_prints_so(run: Run) -> None:
    """The studio's units are the plan's, unless others are typed."""
    assert run("studio", "init", "--units", "us", "--ratio", "1:1.3").code == 0
    assert " lb" in run("plan", "jug.stl", "--out", "one").out
    assert " kg" in run("plan", "jug.stl", "--out", "two", "--units", "metric").out


def test_init_asks(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """Asked on the terminal, a wrong answer is asked for again and an empty one ends a list."""
    plain = ["Ninepin", "metric", "1.3", "1:1.3", "5g", "900mm", "1500mm", "18C", "soap", "16kg", "0"]
    lists = ["4 600x20", "4 600x200x18mm", "", "", "2 10L", "", ""]
    answers = iter([*plain, *lists, "pottery_plaster", "", ""])
    monkeypatch.setattr("typer.prompt", lambda *asked, **how: next(answers))
    outcome = run("studio", "init", "--ask", "--json")
    assert outcome.code == 0, outcome.err
    found = json.loads(outcome.out[outcome.out.index("{") :])
    assert (found["name"], found["drills"]) == ("Ninepin", 0)
    assert [board["length_mm"] for board in found["boards"]] == [600.0]
    assert "could be a ratio either way round" in outcome.out


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("studio", "init", "--no-ask"), "--boards"),
        (("studio", "init", "--boards", "wide"), "--boards"),
        (("studio", "init", "--ratio", "5:1"), "more water than plaster"),
        (("studio", "show"), "claybed studio init"),
        (("why", "nowhere"), "Name the folder"),
        (("mix", "--inside", "174x173mm"), "--plan"),
        (("mix", "--plan", "x", "--space", "10L"), "Leave the other options out"),
    ],
)
def test_what_cannot_be_is_one_line(run: Run, words: tuple[str, ...], says: str) -> None:
    """Each of these ends with 2 and one line that says what to do."""
    outcome = run(*words)
    assert outcome.code == 2 and outcome.out == ""
    assert says in outcome.err and outcome.err.count("\n") == 1


def test_why_prints_formula_inputs_source_and_rule(run: Run, folder: Path) -> None:
    """One figure: value, formula, where inputs come from, the source in words, and the common rule."""
    outcome = run("why", str(folder), "pours.A.plaster_g")
    assert outcome.code == 0, outcome.err
    for part in ("pours.A.plaster_g = ", "slurry / densities", "0.998", "from memory", "USG", "2853"):
        assert part in outcome.out
    document = json.loads(run("why", str(folder), "pours.A.plaster_g", "--json").out)
    assert document["value"] == plan()["pours"][0]["plaster_g"]
    unknown = run("why", str(folder), "pours.A.plastr")
    assert unknown.code == 2 and "pours.A.plaster_g" in unknown.err
    assert "pours.A.plaster_g" in run("why", str(folder)).out


def test_mix_for_a_standing_form(run: Run, folder: Path) -> None:
    """The measured form changes the weights; too little plaster ends with 4; JSON is unrounded."""
    outcome = run("mix", "--plan", str(folder), "--piece", "A", "--inside", "174x173", "--line", "143mm")
    assert outcome.code == 0, outcome.err
    assert "8.8 % more than planned" in outcome.out
    assert "Each mm of fill line more or less is 20.3 g of water" in outcome.out
    thin = run("mix", "--plan", str(folder), "--piece", "A", "--inside", "135x135mm", "--json")
    assert thin.code == 4
    assert json.loads(thin.out)["findings"][0]["id"] == "wall_thin_as_built"
    inches = run("mix", "--plan", str(folder), "--piece", "A", "--inside", "6.85 x 6.81in", "--units", "us")
    assert "1/16 in" in inches.out and "lb" in inches.out
