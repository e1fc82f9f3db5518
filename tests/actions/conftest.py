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


@pytest.fixture(scope="session", params=sorted(PLANS))
def planned(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory, own_cache: None
) -> Planned:
    """One plan after the other, each made once."""
    solid, brief, units = PLANS[request.param]
    folder = tmp_path_factory.mktemp(request.param)
    file = write_stl(solid(), folder / f"{request.param}.stl")
    return make_plan(file, folder / "out", brief, units=units)
