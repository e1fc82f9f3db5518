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


@pytest.mark.parametrize(
    "words",
    [
        ["cast", "--map", "out", "--area", "300cm2"],
        ["cast", "--map", "out", "--cavity", "450ml"],
        ["cast", "--map", "out", "--plaster", "35mm"],
        ["cast", "--map", "out", "--ratio", "1:1.3"],
        ["cast", "--map", "out", "--drying-days", "3"],
        ["cast", "--map", "out", "--bore", "20mm"],
        ["cast", "--map", "out", "--slot", "8mm"],
        ["cast", "--map", "out", "--spare", "100ml"],
        ["cast", "--map", "out", "--number", "2"],
        ["press", "--patterns", "out", "--area", "300cm2"],
        ["press", "--patterns", "out", "--slabs", "3"],
        ["press", "--patterns", "out", "--seam", "300mm"],
        ["press", "--patterns", "out", "--block", "10kg"],
        ["press", "--patterns", "out", "--wait", "30"],
        ["press", "--patterns", "out", "--body", "stoneware"],
        ["press", "--patterns", "out", "--number", "2"],
    ],
)
def test_an_option_without_use_is_refused(
    words: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the plan settles is not typed beside it: the option is named, nothing is written."""
    monkeypatch.chdir(tmp_path)
    assert main([words[0], str(tmp_path), *words[1:]]) == EXIT_BAD_INPUT
    assert f"{words[3]}: is not used with {words[1]}" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "words",
    [
        ["cast", "--k", "1", "--wall", "4mm", "--cell", "2mm"],
        ["cast", "--k", "1", "--wall", "4mm", "--thicker", "0"],
        ["cast", "--k", "1", "--wall", "4mm", "--release", "60"],
        ["cast", "--k", "1", "--wall", "4mm", "--rest", "60"],
        ["cast", "--k", "1", "--wall", "4mm", "--keep"],
        ["cast", "--k", "1", "--wall", "4mm", "--open"],
        ["cast", "--k", "1", "--wall", "4mm", "--room", "25C"],
        ["cast", "plan", "--map", "out", "--rest", "0", "--air", "fan"],
        ["press", "--area", "300cm2", "--stretch", "20%"],
        ["press", "--area", "300cm2", "--allowance", "0"],
        ["press", "--area", "300cm2", "--most", "4"],
        ["press", "--area", "300cm2", "--paper", "a4"],
    ],
)
def test_an_option_of_a_folder_needs_the_folder(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """An option that only the map or the patterns read is refused without them, never passed over."""
    assert main(words) == EXIT_BAD_INPUT
    named = next(word for word in reversed(words) if word.startswith("--"))
    assert f"{named}: only counts with" in capsys.readouterr().err


@pytest.mark.parametrize("words", [["cast", "--map"], ["press", "--patterns"]])
def test_a_folder_without_a_plan_leaves_nothing(
    words: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A folder that holds no plan is refused, and no half-made folder stays."""
    out = tmp_path / "out"
    assert main([words[0], str(tmp_path), words[1], str(out)]) == EXIT_BAD_INPUT
    assert "plan" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
