"""`claybed cast --map` and `claybed press --patterns` as they are typed."""

from __future__ import annotations

from pathlib import Path

import pytest

from claybed.cli.app import main
from claybed.errors import EXIT_BAD_INPUT


@pytest.mark.parametrize("words", [["cast", "--map"], ["press", "--patterns"]])
def test_a_plan_is_needed(words: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without a plan folder the option is named, and nothing is written."""
    out = tmp_path / "out"
    assert main([*words, str(out)]) == EXIT_BAD_INPUT
    assert words[1] in capsys.readouterr().err
    assert not out.exists()


@pytest.mark.parametrize("words", [["cast", "--map"], ["press", "--patterns"]])
def test_a_folder_without_a_plan_leaves_nothing(
    words: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A folder that holds no plan is refused, and no half-made folder stays."""
    out = tmp_path / "out"
    assert main([words[0], str(tmp_path), words[1], str(out)]) == EXIT_BAD_INPUT
    assert "plan" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
