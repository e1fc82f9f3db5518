"""`claybed shrink`, `slip`, `cast`, `press` and `dry` with plain numbers."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from claybed.cli.casting import grip_line
from claybed.flow.ledger import numbers_at
from claybed.ware.letting_go import in_time, onto

Run = Callable[..., Any]
LINES = (
    "shrink --fired 250mm --body stoneware --fired-capacity 350ml --fired-wall 3.5mm",
    "shrink --bar 150/144/141/133 --bar 150/144/133 --bar 150/132.8 --model 220mm",
    "shrink --dry-mass 100g --soaked 104g --suspended 60g",
    "shrink --drying 4% --firing 7.6% --expansion 0.2% --generations 3 --model 200mm",
    "slip --clay 20kg --water 8.4L --deflocculant 100g",
    "slip --pint-weight '35 oz' --batch 10L --target 1.70",
    "slip --sample '65g in 50ml' --solids 2.65",
    "slip --make 12L --target 1.76",
    "cast --k 1.2 --wall 4mm --area 300cm2 --cavity 450ml --plaster 35mm --spare 6ml --bore 20mm --slot 12mm "
    "--drying-days 6 --casts 10 --temperature 16C",
    "cast --test 2mm@4 --test 3mm@9 --test 4.1mm@16 --minutes 20 --number 2",
    "press --area 600cm2 --seam 500mm --thickness 8mm --slabs 2 --body porcelain",
    "dry --size 200x150x90mm --cavity 400ml --air fan --room 72F --humidity 40%",
    "dry --wet 2450g --ratio 70",
    "dry --wet 2450g --log mold.jsonl --weigh 2105g --at 2026-11-20T09:00",
)


def words(line: str) -> list[str]:
    """A command line as words."""
    import shlex

    return shlex.split(line)


def asked(run: Run, line: str) -> dict[str, Any]:
    """Return the JSON of one command."""
    outcome = run(*words(line), "--json")
    assert outcome.code == 0, outcome.err
    return dict(json.loads(outcome.out))


@pytest.mark.parametrize(
    ("line", "key", "value"),
    [
        ("shrink --fired 250mm --total 12%", "model_mm", 284.09),
        ("shrink --plastic 150mm --dry 144mm --fired-length 133mm", "total_percent", 11.33),
        ("slip --sg 1.79", "water_percent", 28.28),
        ("cast --k 1.0 --wall 4mm", "minutes", 16.0),
        ("cast --test-wall 4mm --test-minutes 5", "k_mm2_per_min", 3.2),
        ("shrink --fired-capacity 350ml --total 12%", "wet_capacity_ml", 513.59),
        ("shrink --dry-mass 100g --soaked 104g", "absorption_percent", 4.0),
        ("slip --sg 1.79", "solids_percent", 71.72),
        ("dry --wet 1000g", "dry_g", 670.45),
        ("press --area 600cm2 --thickness 9mm", "wait_minutes", 101.25),
    ],
)
def test_the_figures_people_check(run: Run, line: str, key: str, value: float) -> None:
    """The figures of the examples, to the digits that they are told with."""
    found = asked(run, line)[key]
    digits = len(str(value).partition(".")[2])
    assert round(found, digits) == value


@pytest.mark.parametrize("line", LINES)
def test_every_number_has_its_working(run: Run, line: str) -> None:
    """Each number of a document, and no other, has a figure, whose bounds lie around it."""
    document = asked(run, line)
    figures = document.pop("figures")
    assert set(figures) == set(numbers_at(document))
    for pointer, figure in figures.items():
        assert figure["formula"] and figure["source"], pointer
        value: Any = document
        for step in pointer.strip("/").split("/"):
            value = value[int(step)] if isinstance(value, list) else value[step]
        if figure["low"] is not None:
            assert figure["low"] <= value <= figure["high"], pointer


@pytest.mark.parametrize("line", LINES)
@pytest.mark.parametrize("units", ["metric", "us"])
def test_words_end_with_the_next_command(run: Run, line: str, units: str) -> None:
    """Each command prints sentences, the working on --why, and a next command that this program knows."""
    plain = run(*words(line), "--units", units)
    why = run(*words(line), "--units", units, "--why")
    assert (plain.code, why.code) == (0, 0), plain.err
    last = plain.out.strip().splitlines()[-1]
    assert last.startswith("Next: claybed ")
    assert last.split()[2] in {"plan", "cast", "dry", "shrink", "slip", "press"}
    assert "Source: " in why.out
    assert "Source: " not in plain.out
    text = plain.out.casefold()
    assert "safe" not in text
    assert "none" not in text.split()


def test_a_cast_is_told_where_it_grips() -> None:
    """The piece, by how much and by when, in the units asked; or that it grips nowhere."""
    figures = {"/grip/within_minutes": {"low": 20.0, "high": 40.0}}
    grip = {"piece": "B", "grip_mm": 0.508, "within_minutes": 30.0}
    opens = in_time(grip, ["A", "B"])
    document = {"grip": grip, "figures": figures, "opens": opens, "onto": onto(grip, ["A", "B"])}
    told = grip_line(document, us=False)
    assert "onto piece B by 0.5 mm" in told
    assert "within about 30 min (20 min to 40 min) of pouring out" in told
    assert "take piece B off first" in told
    assert "by 0.020 in until" in grip_line(document, us=True)
    three = document | {"onto": onto(grip | {"gripped": ["A", "B", "C"]}, ["C", "A", "B"])}
    assert "onto pieces C, A and B, most onto B, by 0.5 mm" in grip_line(three, us=False)
    loose = {"piece": None, "grip_mm": 0.0, "within_minutes": None}
    assert "grips the plaster nowhere" in grip_line({"grip": loose, "figures": {}}, us=False)


def test_us_units_reach_the_screen(run: Run) -> None:
    """Inches and pounds on request, metric otherwise; the JSON stays metric."""
    us = run(*words("press --area 93in2 --thickness '1/4 in' --units us")).out
    assert "lb" in us and "in²" in us and " mm" not in us
    assert "cm²" in run(*words("press --area 600cm2")).out
    assert asked(run, "press --area 100in2 --units us")["slab_mm"] == 6.0


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("shrink --fired 250mm", "nothing says how the clay shrinks"),
        ("shrink --total 12% --drying 6% --firing 10%", "contradicts"),
        ("shrink --body stonewear --fired 10mm", "stoneware"),
        ("shrink --plastic 150mm", "both ends"),
        ("shrink --bar 150 --fired 10mm", "no bar"),
        ("slip", "nothing says how heavy"),
        ("slip --clay 10kg --water 4L --made 8.8L", "1.784 and its volume 1.591"),
        ("slip --sg 2.9", "cannot be cast"),
        ("slip --sg 1.8 --batch 3L", "needs a target"),
        ("slip --casts 3", "casts of what"),
        ("cast", "wall or its time"),
        ("cast --wall 4mm --minutes 5", "not both"),
        ("cast --wall 4", "zzz"),
        ("cast --k 1000 --wall 4mm", "out of range"),
        ("cast --test 4mm", "no test pour"),
        ("cast --wall 4mm --area 300", "no unit"),
        ("press", "needs its area"),
        ("dry", "how much plaster"),
        ("dry --wet 2450g --size 1x1x1mm --room 60C", "harms plaster"),
        ("dry --weigh 200g --wet 2450g", "needs its log"),
        ("dry --wet 2450g --log mold.jsonl --weigh 200g", "cannot be this mold"),
        ("dry --wet 2450g --log mold.jsonl --weigh 2450g --at tuesday", "is not a time"),
        ("cast nowhere.claybed", "is not a folder"),
    ],
)
def test_what_cannot_be_is_refused(run: Run, line: str, says: str) -> None:
    """Contradictions, unknown names and missing parts end with 2 and one line that says what to do."""
    outcome = run(*words(line))
    if says == "zzz":  # a bare length is millimetres
        assert outcome.code == 0
        return
    assert outcome.code == 2, outcome.out
    assert says in outcome.err
    assert outcome.err.count("\n") == 1


def test_a_log_grows_and_refuses_nothing_possible(run: Run) -> None:
    """Three weighings, one of them odd: all kept, the odd one asked about, the day told with its ends."""
    for mass, day in (("2450g", "20"), ("2300g", "21"), ("2330g", "22")):
        line = f"dry --log mold.jsonl --weigh {mass} --at 2026-11-{day}T09:00"
        outcome = run(*words(line))
        assert outcome.code == 0, outcome.err
    assert "30 g more than before" in outcome.out
    assert "between" in outcome.out
    assert len(Path("mold.jsonl").read_text().splitlines()) == 3
    kept = asked(run, "dry --log mold.jsonl")["log"]
    assert kept["weighings"] == 3.0
    run(*words("dry --log mold.jsonl --weigh 100g"))
    assert len(Path("mold.jsonl").read_text().splitlines()) == 3


def test_a_studio_file_speaks_for_its_clay_and_slip(run: Run, tmp_path: Path) -> None:
    """A named slip casts at its own rate, and nothing warns that the rate is a guess."""
    (tmp_path / "yard.toml").write_text(
        "[body.yard]\ntotal_shrinkage_percent = 11.8\n[slip.yard]\ncasting_rate_mm2_per_min = 1.6\n"
    )
    found = asked(run, "cast --wall 4mm --slip yard --studio yard.toml")
    assert found["minutes"] == pytest.approx(10.0)
    assert found["findings"] == []
    assert asked(run, "cast --wall 4mm")["findings"][0]["id"] == "rate_not_measured"
    sized = asked(run, "shrink --fired 100mm --body yard --studio yard.toml")
    assert sized["model_mm"] == pytest.approx(100 / 0.882)
    assert sized["figures"]["/total_percent"]["source"] == "studio"
