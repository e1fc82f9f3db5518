"""Molds that several tests look at, built once."""

import pytest
from small_mold import double_cone, mold_of

from claybed.records.assembly import Assembly


@pytest.fixture(scope="session")
def mold() -> Assembly:
    """A sound mold of two pieces around a double cone."""
    return mold_of(double_cone())
