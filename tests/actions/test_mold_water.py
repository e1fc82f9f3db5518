"""The water in a plan's mold, by the weighings logged beside it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from claybed.actions.casting import CastWish, map_ask
from claybed.actions.mold_water import weighed_water
from claybed.actions.weighing_log import append_weighing, log_beside
from claybed.physics.plaster import dry_from_wet_kg
from claybed.records.weighing import Weighing
from claybed.ware.advice import water_finding

CONSISTENCY = 100.0 / 1.3
DAY_S = 86400.0
START_S = 1_790_000_000.0


@pytest.fixture
def plan(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A plan folder of two pieces of 3 and 2 kg, wet, whose document is only what is asked here."""
    folder = tmp_path / "vase.claybed"
    folder.mkdir()
    document = {
        "made": {"brief": {"consistency": CONSISTENCY, "ware_wall_mm": 4.0}},
        "pieces": [{"id": "A", "wet_kg": 3.0}, {"id": "B", "wet_kg": 2.0}],
        "ware": {},
        "figures": {},
    }
    (folder / "plan.json").write_text(json.dumps(document))
    monkeypatch.setattr("claybed.actions.plan_folders.read_plan", lambda _: document)
    return folder


def weigh(plan: Path, piece: str | None, *masses_g: float, from_s: float = START_S) -> float:
    """Log one weighing a day, and return the dry mass that the first of them points to, g."""
    for day, mass_g in enumerate(masses_g):
        append_weighing(log_beside(plan, piece), Weighing(from_s + day * DAY_S, mass_g))
    return 1000.0 * dry_from_wet_kg(masses_g[0] / 1000.0, CONSISTENCY)


def test_a_mold_never_weighed_says_nothing(plan: Path) -> None:
    """Without a log nothing is known, and a cast begins in dry plaster."""
    assert weighed_water(plan) is None
    assert map_ask(CastWish(plan=plan)).moisture_fraction == 0.0


def test_the_whole_mold_on_the_scale(plan: Path) -> None:
    """Water is the last weighing over the dry mass, within the bounds of the dry mass, and says when."""
    dry_g = weigh(plan, None, 5000.0, 4500.0, 3900.0)
    water = weighed_water(plan)
    assert water is not None
    assert water.value == pytest.approx(100.0 * (3900.0 / dry_g - 1.0), abs=1.0)
    assert water.low < water.value < water.high
    assert water.figure.inputs["log"] == "vase-mold.weighings.jsonl"
    assert water.figure.source == "measured"
    (finding,) = water_finding(water.value, water.figure)
    assert f"{water.value:.1f} %" in finding.says and "--moisture" in finding.remedy


def test_pieces_weighed_apart_are_added_up(plan: Path) -> None:
    """Two pieces of different dampness count by their masses; a newer log of the whole mold comes first."""
    dry_g = weigh(plan, "A", 3000.0, 2600.0) + weigh(plan, "B", 2000.0, 1900.0)
    water = weighed_water(plan)
    assert water is not None
    assert water.value == pytest.approx(100.0 * (4500.0 / dry_g - 1.0), abs=1.0)
    whole_dry_g = weigh(plan, None, 5000.0, 3600.0, from_s=START_S + 2 * DAY_S)
    later = weighed_water(plan)
    assert later is not None
    assert later.value == pytest.approx(100.0 * (3600.0 / whole_dry_g - 1.0), abs=1.0)


def test_a_mold_weighed_late_is_held_to_its_planned_mass(plan: Path) -> None:
    """A first weighing of a mold already half dry does not pass for one just set."""
    weigh(plan, None, 3700.0)
    water = weighed_water(plan)
    dry_g = 1000.0 * dry_from_wet_kg(5.0, CONSISTENCY)
    assert water is not None
    assert water.value == pytest.approx(100.0 * (3700.0 / dry_g - 1.0), abs=1.0)


def test_a_cast_takes_the_weighed_water_unless_told(plan: Path) -> None:
    """The map begins with the mold's own water and says where it is from; what is typed comes first."""
    weigh(plan, None, 5000.0, 3700.0)
    water = weighed_water(plan)
    ask = map_ask(CastWish(plan=plan))
    assert water is not None
    assert ask.moisture_fraction == pytest.approx(water.value / 100.0)
    assert ask.workings["moisture_fraction"].inputs["log"] == "vase-mold.weighings.jsonl"
    told = map_ask(CastWish(plan=plan, start_percent=5.0))
    assert told.moisture_fraction == 0.05 and "moisture_fraction" not in told.workings
