"""What the command-line tests share: running a command in this process with stand-ins behind it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from claybed.cli import planning, surveying
from claybed.cli.app import main


@dataclass(frozen=True)
class Outcome:
    """Exit code and both outputs of one command."""

    code: int
    out: str
    err: str


Run = Callable[..., Outcome]


@pytest.fixture
def run(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> Callable[..., Outcome]:
    """Run a command line in an empty folder; `target` names the stand-in for planning and surveying."""
    monkeypatch.syspath_prepend(str(Path(__file__).parent))
    monkeypatch.chdir(tmp_path)
    # Nobody's own studio file steers these commands.
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.delenv("CLAYBED_STUDIO", raising=False)
    (tmp_path / "jug.stl").write_text("solid jug\nendsolid jug\n")

    def run_once(*words: str, target: str = "ready") -> Outcome:
        monkeypatch.setattr(planning, "TARGET", f"cli_targets:{target}")
        monkeypatch.setattr(surveying, "TARGET", f"cli_targets:{target}")
        capsys.readouterr()
        code = main(list(words))
        captured = capsys.readouterr()
        return Outcome(code, captured.out, captured.err)

    return run_once
