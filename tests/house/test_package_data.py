"""Everything that is not Python goes with the installed package, the list of sources too."""

from __future__ import annotations

import tomllib
from importlib import resources
from pathlib import Path

import pytest

from claybed.materials.sources import sources

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "src" / "claybed"
PATTERNS = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"]["package-data"]
# What is there only while the package is worked on.
PASSING = {"__pycache__", ".DS_Store"}


def files_of(folder: Path) -> set[Path]:
    """All files of a folder that a running program may read, Python aside."""
    return {
        path
        for path in folder.rglob("*")
        if path.is_file() and path.suffix not in {".py", ".pyc"} and not PASSING & set(path.parts)
    }


def packed(folder: Path, patterns: list[str]) -> set[Path]:
    """Files of a folder that the patterns take along."""
    return {path for pattern in patterns for path in folder.glob(pattern) if path.is_file()}


def test_every_file_is_packed() -> None:
    """No font, template, constant or page is left behind when the package is installed."""
    left = files_of(PACKAGE) - packed(PACKAGE, PATTERNS["claybed"])
    assert not left, sorted(path.relative_to(ROOT).as_posix() for path in left)


@pytest.mark.parametrize("pattern", PATTERNS["claybed"])
def test_every_pattern_takes_something(pattern: str) -> None:
    """A pattern that matches nothing is a folder that moved."""
    assert packed(PACKAGE, [pattern])


def test_a_file_left_behind_is_noticed(tmp_path: Path) -> None:
    """A file outside the patterns is found."""
    (tmp_path / "data").mkdir()
    kept, lost = tmp_path / "data" / "kept.toml", tmp_path / "lost.md"
    kept.touch()
    lost.touch()
    assert files_of(tmp_path) - packed(tmp_path, ["data/*.toml"]) == {lost}


def test_the_list_of_sources_goes_along() -> None:
    """The package's list of sources reads as the one in docs, and every row of it is told."""
    along = resources.files("claybed.materials").joinpath("sources.md").read_text("utf-8")
    page = (ROOT / "docs" / "sources.md").read_text("utf-8")
    assert along == page
    assert len(sources()) == sum(line.startswith("| `") for line in page.splitlines()) > 50
