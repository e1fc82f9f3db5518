"""Plans that several tests look at, made once, with a cache of their own."""

from __future__ import annotations

from pathlib import Path

import pytest

from claybed.records.brief import Brief
from tests.actions.planned import Planned, make_plan, planned_once, write_stl
from tests.pieces import solids

# What is planned, by name: solid, brief, units.
PLANS = {
    "cup": (lambda: solids.cup_with_handle(), Brief(mass_g=310.0), "metric"),
    "tumbler": (lambda: solids.tumbler(), Brief(bucket_l=0.5), "us"),
}


@pytest.fixture(scope="session")
def made_plans() -> dict[str, Planned]:
    """Plans made so far, by name: a fixture with several values is set up anew for every change of value."""
    return {}


@pytest.fixture(scope="session", params=sorted(PLANS))
def planned(
    request: pytest.FixtureRequest,
    tmp_path_factory: pytest.TempPathFactory,
    shared_folder: Path,
    made_plans: dict[str, Planned],
) -> Planned:
    """One plan after the other, each made once and from nothing: no other test has filled its cache."""
    name = request.param

    def make(folder: Path) -> Planned:
        solid, brief, units = PLANS[name]
        file = write_stl(solid(), folder / f"{name}.stl")
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache of one plan")))
            return make_plan(file, folder / "out", brief, units=units)

    if name not in made_plans:
        made_plans[name] = planned_once(shared_folder / "plans", name, tmp_path_factory.mktemp(name), make)
    return made_plans[name]
