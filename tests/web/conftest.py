"""The app of an empty studio, on this machine or open to its network."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from app_client import client_of
from fastapi.testclient import TestClient

from claybed.web.settings import Settings


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    """A studio on this machine only, without the demonstration."""
    return Settings(data=tmp_path / "studio", demo=False)


@pytest.fixture
def client(settings: Settings) -> Iterator[TestClient]:
    """A client of that studio."""
    with client_of(settings) as made:
        yield made


@pytest.fixture
def lan_settings(tmp_path: Path) -> Settings:
    """A studio that is open to the network as studio.local."""
    return Settings(data=tmp_path / "lan", lan=True, host="0.0.0.0", names=("studio.local",), demo=False)
