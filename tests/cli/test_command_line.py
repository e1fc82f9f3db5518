"""The command itself: help, errors, progress, interruption, start."""

from __future__ import annotations

import os
import pty
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, ClassVar

import pytest

import claybed
from claybed import __version__
from claybed.cli import progress

Run = Callable[..., Any]
HERE = Path(__file__).parent
HOME = Path(claybed.__file__).parent.parent
DRIVER = """
import sys
sys.path.insert(0, {here!r})
from claybed.cli import app, planning, progress
planning.TARGET = "cli_targets:{target}"
progress._SILENT_S = {silent_s}
sys.argv[0] = "claybed"
sys.exit(app.main())
"""


def command(target: str, *words: str, at_once: bool = False) -> list[str]:
    """Return the command line of a process of its own, with a stand-in for planning; progress shows after
    its second, or at once.
    """
    driver = DRIVER.format(here=str(HERE), target=target, silent_s=0.0 if at_once else 1.0)
    return [sys.executable, "-c", driver, *words]


def environment() -> dict[str, str]:
    """Return the environment in which the package is found."""
    return {**os.environ, "PYTHONPATH": str(HOME), "TERM": "xterm", "COLUMNS": "100"}


@pytest.mark.parametrize("name", ["plan", "survey", "mix", "schema"])
def test_every_command_shows_an_example(run: Run, name: str) -> None:
    """--help works for each command and ends with an example of that command."""
    outcome = run(name, "--help")
    assert outcome.code == 0
    assert f"Example: claybed {name}" in outcome.out
    assert f"Usage: claybed {name}" in outcome.out


@pytest.mark.parametrize("words", [(), ("plan",), ("cast",), ("studio", "init"), ("object", "turn")])
def test_help_asks_no_value_of_a_flag(run: Run, words: tuple[str, ...]) -> None:
    """Behind --help and other flags stands no word to replace."""
    shown = run(*words, "--help").out
    assert "--help" in shown
    assert "<bool>" not in shown


def test_root_help_lists_the_commands(run: Run) -> None:
    """Help names every command; alone, the command shows the same."""
    asked, alone = run("--help"), run()
    assert (asked.code, alone.code) == (0, 0)
    assert asked.out.strip() == alone.out.strip()
    assert all(f" {name} " in asked.out for name in ("plan", "survey", "mix", "schema"))


def test_a_guess_at_the_command_meant_ends_once(run: Run) -> None:
    """A question in a message keeps its own mark, with no stray stop after it."""
    outcome = run("mixx")
    assert "Did you mean 'mix'? See claybed --help.\n" in outcome.err


def test_version_is_told(run: Run) -> None:
    """--version prints the version."""
    assert run("--version").out == f"claybed {__version__}\n"


@pytest.mark.parametrize(
    "words",
    [
        ("plan",),
        ("plan", "jug.stl", "--wal", "3cm"),
        ("plan", "jug.stl", "--pieces", "two"),
        ("plan", "jug.stl", "again.stl"),
        ("pour",),
        ("mix", "--space"),
        ("--json",),
    ],
)
def test_usage_errors_are_one_line(run: Run, words: tuple[str, ...]) -> None:
    """A mistyped command ends with 2 and one line that says where help is."""
    outcome = run(*words)
    assert outcome.code == 2
    assert outcome.out == ""
    assert outcome.err.count("\n") == 1
    assert outcome.err.startswith("claybed")
    assert "--help" in outcome.err


@pytest.mark.parametrize(
    "words",
    [
        ("--height", "0mm"),
        ("--height", "tall"),
        ("--mass", "-3g"),
        ("--unit", "yard"),
        ("--axis", "0,0,0"),
        ("--pieces", "7"),
        ("--body", "0"),
        ("--wall", "0mm"),
        ("--shape", "oval"),
        ("--keep-out", "z"),
        ("--ratio", "1:0"),
        ("--lift", "0kg"),
        ("--max-triangles", "3"),
        ("--pose-tolerance", "-1"),
        ("--units", "imperial"),
        ("--plaster", "!"),
    ],
)
def test_bad_values_name_their_option(run: Run, words: tuple[str, ...], tmp_path: Path) -> None:
    """A value that makes no sense ends with 2, one line with option and remedy, and leaves no folder."""
    outcome = run("plan", "jug.stl", *words)
    assert (outcome.code, outcome.out) == (2, "")
    assert outcome.err.startswith(f"claybed: {words[0]}: ")
    assert outcome.err.count("\n") == 1
    assert [path.name for path in tmp_path.iterdir()] == ["jug.stl"]


class Alarm:
    """Stands in for the timer after which progress is shown; it goes off when a test lets it."""

    made: ClassVar[list[Alarm]] = []
    at_once = False

    def __init__(self, seconds: float, act: Callable[[], None]) -> None:
        self.seconds, self.act = seconds, act
        self.finished = threading.Event()
        Alarm.made.append(self)

    def start(self) -> None:
        """Begin to wait, or go off at once."""
        if Alarm.at_once:
            self.act()

    def cancel(self) -> None:
        """Wait no more."""
        self.finished.set()


@pytest.fixture
def alarm(monkeypatch: pytest.MonkeyPatch) -> type[Alarm]:
    """The timer of progress under the test's hand instead of the clock's."""
    monkeypatch.setattr(progress.threading, "Timer", Alarm)
    monkeypatch.setattr(Alarm, "made", [])
    monkeypatch.setattr(Alarm, "at_once", False)
    return Alarm


def test_quick_work_says_nothing(run: Run, alarm: type[Alarm]) -> None:
    """Work shows no progress before its second is over."""
    assert run("plan", "jug.stl").err == ""
    assert [one.seconds for one in alarm.made] == [1.0]
    assert alarm.made[0].finished.is_set()


def test_progress_is_told_from_the_second_on(alarm: type[Alarm], capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing is said before; then the phase that is under way, once, and each that follows."""
    with progress.Meter() as meter:
        meter("reading", 0.5)
        assert capsys.readouterr().err == ""
        alarm.made[0].act()
        meter("reading", 0.7)
        meter("surveying", 0.1)
        meter("surveying", 0.2)
    alarm.made[0].act()  # a timer that wakes late, after the work has ended
    assert capsys.readouterr().err == "claybed: reading …\nclaybed: surveying …\n"


def test_long_work_says_where_it_is_in_plain_lines(run: Run, alarm: type[Alarm]) -> None:
    """Away from a terminal, long work writes one line for each phase to standard error, none to output."""
    alarm.at_once = True
    outcome = run("plan", "jug.stl", "--json", target="slow")
    assert outcome.code == 0
    assert outcome.out.startswith("{")
    said = [f"claybed: {phase} …" for phase in ("starting", "reading", "surveying")]
    assert outcome.err.splitlines() == said


def test_long_work_draws_a_bar_on_a_terminal(tmp_path: Path) -> None:
    """On a terminal, long work draws a bar with the phase."""
    (tmp_path / "jug.stl").write_text("solid")
    ours, theirs = pty.openpty()
    child = subprocess.Popen(
        command("slow", "plan", "jug.stl", "--json", at_once=True),
        cwd=tmp_path,
        env=environment(),
        stderr=theirs,
        stdout=subprocess.DEVNULL,
    )
    os.close(theirs)
    drawn = b""
    try:
        while chunk := os.read(ours, 4096):
            drawn += chunk
    except OSError:  # the terminal closes with its last writer
        pass
    os.close(ours)
    assert child.wait(timeout=120) == 0
    assert "━".encode() in drawn
    assert b"surveying" in drawn


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_stopping_leaves_nothing(tmp_path: Path, number: signal.Signals) -> None:
    """Ctrl-C, or being told to end, ends with 130 and one line, and leaves neither file nor folder."""
    (tmp_path / "jug.stl").write_text("solid")
    child = subprocess.Popen(
        command("linger", "plan", "jug.stl", "--out", "jug.claybed"),
        cwd=tmp_path,
        env=environment(),
        stderr=subprocess.PIPE,
        text=True,
    )
    end = time.monotonic() + 120
    while not (tmp_path / "begun").exists() and time.monotonic() < end:
        time.sleep(0.02)
    child.send_signal(number)
    _, err = child.communicate(timeout=120)
    assert child.returncode == 130
    assert err.splitlines()[-1] == "claybed: stopped; nothing was left behind."
    assert sorted(path.name for path in tmp_path.iterdir()) == ["begun", "jug.stl"]


def test_reader_that_leaves_early_is_no_fault(tmp_path: Path) -> None:
    """Output into a pipe that closes ends quietly."""
    child = subprocess.Popen(
        command("ready", "schema"), env=environment(), stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    assert child.stdout is not None
    assert child.stderr is not None
    child.stdout.close()
    err = child.stderr.read()
    child.stderr.close()
    child.wait(timeout=120)
    assert err == b""


def test_start_loads_no_mesh_library_and_few_modules() -> None:
    """Help and mix start without numpy, scipy, trimesh or numba, and with few modules in all."""
    code = (
        "import sys; from claybed.cli.app import main; main({!r}); "
        "heavy = {{'numpy', 'scipy', 'trimesh', 'numba'}} & set(sys.modules); "
        "print(heavy or 'light', len(sys.modules), file=sys.stderr)"
    )
    for words in (["--help"], ["mix", "--space", "10L"]):
        done = subprocess.run(
            [sys.executable, "-c", code.format(words)],
            env=environment(),
            capture_output=True,
            text=True,
            check=True,
        )
        word, modules = done.stderr.split()
        assert word == "light"
        # Start-up time follows the count; seconds themselves are read in benchmarks, not here.
        assert int(modules) < 600
