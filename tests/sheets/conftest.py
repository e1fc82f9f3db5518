"""The specimen is built once for all tests of paper, pictures and the 3D view."""

import pytest
from specimen import Specimen, specimen


@pytest.fixture(scope="session")
def bottle() -> Specimen:
    """A bottle in its two-piece mold."""
    return specimen(sections=48)
