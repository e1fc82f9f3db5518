"""Compiling is announced once, and only when nothing compiled is kept."""

from __future__ import annotations

from pathlib import Path

import pytest

from claybed.actions import warming


def test_nothing_is_said_when_compiled_kernels_are_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A kept kernel means no warm-up and no word about it."""
    (tmp_path / "overlap._flag_overlaps-1.py311.nbi").touch()
    monkeypatch.setattr(warming, "kernel_cache", lambda: (str(tmp_path), "overlap._flag_overlaps*.nbi"))
    said: list[tuple[str, float]] = []
    assert warming.warm_up(lambda step, part: said.append((step, part))) is False
    assert said == []


def test_compiling_is_told_from_start_to_end_when_none_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without a kept kernel the small wedge is planned, and progress runs from 0 to 1 without going back."""
    monkeypatch.setattr(warming, "kernel_cache", lambda: (str(tmp_path), "overlap._flag_overlaps*.nbi"))
    said: list[tuple[str, float]] = []
    assert warming.warm_up(lambda step, part: said.append((step, part))) is True
    parts = [part for _, part in said]
    assert {step for step, _ in said} == {"compiling"}
    assert parts[0] == 0.0
    assert parts[-1] == 1.0
    assert parts == sorted(parts)
