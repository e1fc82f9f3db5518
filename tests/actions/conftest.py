"""Plans that several tests look at, made once, with a cache of their own."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest

from claybed.records.brief import Brief
from tests.actions.planned import Planned, make_plan, write_stl
from tests.pieces import solids

# What is planned, by name: solid, brief, units.
PLANS = {
    "cup": (lambda: solids.cup_with_handle(), Brief(mass_g=310.0), "metric"),
    "tumbler": (lambda: solids.tumbler(), Brief(bucket_l=0.5), "us"),
}


@pytest.fixture(scope="session")
def own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """A cache folder of the tests' own."""
    before = os.environ.get("XDG_CACHE_HOME")
    os.environ["XDG_CACHE_HOME"] = str(tmp_path_factory.mktemp("cache"))
    yield
    if before is None:
        del os.environ["XDG_CACHE_HOME"]
    else:
        os.environ["XDG_CACHE_HOME"] = before


@pytest.fixture(scope="session")
def made_plans() -> dict[str, Planned]:
    """Plans made so far, by name: a fixture with several values is set up anew for every change of value."""
    return {}


@pytest.fixture(scope="session", params=sorted(PLANS))
def planned(
    request: pytest.FixtureRequest,
    tmp_path_factory: pytest.TempPathFactory,
    own_cache: None,
    made_plans: dict[str, Planned],
) -> Planned:
    """One plan after the other, each made once and from nothing: no other test has filled its cache."""
    name = request.param
    if name not in made_plans:
        solid, brief, units = PLANS[name]
        folder = tmp_path_factory.mktemp(name)
        file = write_stl(solid(), folder / f"{name}.stl")
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache of one plan")))
            made_plans[name] = make_plan(file, folder / "out", brief, units=units)
    return made_plans[name]
