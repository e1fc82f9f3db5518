"""Compiling is announced once, and only when nothing compiled is kept."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from claybed.actions import warming
from claybed.flow.course import run_course
from claybed.flow.store import NoStore
from claybed.records.brief import Brief


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder that stands for both caches, with nothing kept yet."""
    for name in ("kernel_cache", "side_kernel_cache"):
        monkeypatch.setattr(warming, name, lambda name=name: (str(tmp_path), f"{name}*.nbi"))
    return tmp_path


@pytest.mark.parametrize("more", [False, True])
def test_nothing_is_said_when_compiled_kernels_are_kept(kept: Path, more: bool) -> None:
    """A kept kernel means no warm-up and no word about it; of side pieces only where they are needed."""
    (kept / "kernel_cache-1.py311.nbi").touch()
    if more:
        (kept / "side_kernel_cache-1.py311.nbi").touch()
    said: list[tuple[str, float]] = []
    assert warming.warm_up(lambda step, part: said.append((step, part)), more_pieces=more) is False
    assert said == []


@pytest.mark.parametrize(
    ("first", "more", "pieces"), [(True, False, [None]), (False, True, [3]), (True, True, [None, 3])]
)
def test_compiling_is_told_from_start_to_end_when_none_is_kept(
    kept: Path, monkeypatch: pytest.MonkeyPatch, first: bool, more: bool, pieces: list[int | None]
) -> None:
    """Without a kept kernel the small wedge is planned, in three pieces for what cuts side pieces; progress
    runs from 0 to 1 without going back.
    """
    if not first:
        (kept / "kernel_cache-1.py311.nbi").touch()
    planned = []

    def course(read: object, brief: Brief, *rest: Any) -> None:
        planned.append((brief.pieces, run_course(read, brief, *rest).molded.option.pieces))

    monkeypatch.setattr(warming, "run_course", course)
    said: list[tuple[str, float]] = []
    assert warming.warm_up(lambda step, part: said.append((step, part)), more_pieces=more) is True
    assert planned == [(asked, asked or 2) for asked in pieces]
    parts = [part for _, part in said]
    assert {step for step, _ in said} == {"compiling"}
    assert parts[0] == 0.0
    assert parts[-1] == 1.0
    assert parts == sorted(parts)


def test_the_wedge_in_three_pieces_holds_every_check() -> None:
    """A straight hole in a side that the longest way of the object runs beside by a degree takes a side piece
    and no fill: what is compiled with is a mold like any other.
    """
    brief = Brief(pieces=3, axis=(0.0, 0.0, 1.0))
    course = run_course(lambda *_: warming._wedge(), brief, "", NoStore(), lambda *_: None)
    assert [check.id for check in course.checks if not check.ok] == []
    assert course.molded.option.fill_ml < 0.02
