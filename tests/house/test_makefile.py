"""`make` on a machine that is not yet prepared: it prepares it, or says what to type."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

WITHOUT_ENSUREPIP = """#!/bin/sh
case "$*" in
*ensurepip*) test -e "{prepared}" || exit 1 ;;
*"-m venv"*) mkdir -p .venv/bin && : >.venv/bin/python && chmod +x .venv/bin/python; exit 0 ;;
esac
exec "{python}" "$@"
"""
TOO_OLD = """#!/bin/sh
case "$*" in
-V) echo "Python 3.9.2" ;;
*) exit 1 ;;
esac
"""
APT = """#!/bin/sh
echo "$*" >>"{log}"
case "$*" in
*python3-venv*) : >"{prepared}" ;;
esac
"""


def script(path: Path, text: str) -> Path:
    """Write a program."""
    path.parent.mkdir(exist_ok=True)
    path.write_text(text)
    path.chmod(0o755)
    return path


def make(
    folder: Path, python: Path, *, stamp: str = ".venv/.made", done: str = "", **programs: str
) -> subprocess.CompletedProcess[str]:
    """Make one stamp in a copy of the Makefile with only these programs; `done` says which are behind it."""
    shutil.copy(ROOT / "Makefile", folder)
    (folder / "bin").mkdir(exist_ok=True)
    for name, text in programs.items():
        script(folder / "bin" / name.replace("_", "-"), text)
    # Only these tools beside the stand-ins, so that a real apt-get is out of reach.
    for tool in ("sh", "touch", "test", "mkdir", "chmod", "cat"):
        real = shutil.which(tool)
        if real is not None and not (folder / "bin" / tool).exists():
            (folder / "bin" / tool).symlink_to(real)
    make_program = shutil.which("make")
    assert make_program is not None
    return subprocess.run(
        [make_program, f"PYTHON={python}", *(f"--old-file={name}" for name in done.split()), stamp],
        cwd=folder,
        env={**os.environ, "PATH": str(folder / "bin")},
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture
def bare_python(tmp_path: Path) -> Path:
    """Return a Python that cannot make virtual environments until python3-venv is installed."""
    text = WITHOUT_ENSUREPIP.format(prepared=tmp_path / "prepared", python=sys.executable)
    return script(tmp_path / "bin" / "python3", text)


def test_root_on_debian_gets_what_is_missing(tmp_path: Path, bare_python: Path) -> None:
    """As root with apt-get, python3-venv is installed, said so, and the environment made."""
    apt = APT.format(log=tmp_path / "apt.log", prepared=tmp_path / "prepared")
    done = make(tmp_path, bare_python, id="#!/bin/sh\necho 0\n", apt_get=apt)
    assert done.returncode == 0, done.stderr
    assert "python3-venv" in done.stdout
    asked = (tmp_path / "apt.log").read_text().splitlines()
    assert asked[0].startswith("update")
    assert "python3-venv" in asked[1].split()
    assert (tmp_path / ".venv" / ".made").exists()


@pytest.mark.parametrize("apt", [None, "#!/bin/sh\nexit 100\n"], ids=["none", "failing"])
def test_line_to_type_is_printed_when_it_cannot_be_installed(
    tmp_path: Path, bare_python: Path, apt: str | None
) -> None:
    """Without apt-get, or when it fails, the exact line to type is printed and nothing is made."""
    programs = {} if apt is None else {"apt_get": apt}
    done = make(tmp_path, bare_python, id="#!/bin/sh\necho 0\n", **programs)
    assert done.returncode != 0
    assert "Type: sudo apt-get install python3-venv" in done.stdout
    assert not (tmp_path / ".venv").exists()


def test_others_than_root_are_told_what_to_type(tmp_path: Path, bare_python: Path) -> None:
    """Without the right to install, apt-get is not tried and the line to type is printed."""
    apt = APT.format(log=tmp_path / "apt.log", prepared=tmp_path / "prepared")
    done = make(tmp_path, bare_python, id="#!/bin/sh\necho 1000\n", apt_get=apt)
    assert done.returncode != 0
    assert "Type: sudo apt-get install python3-venv" in done.stdout
    assert not (tmp_path / "apt.log").exists()


def test_python_that_is_too_old_is_named(tmp_path: Path) -> None:
    """A Python outside the range is named with its version and what to type instead."""
    done = make(tmp_path, script(tmp_path / "bin" / "old", TOO_OLD))
    assert done.returncode != 0
    assert "3.11 to 3.13" in done.stdout
    assert "Python 3.9.2" in done.stdout
    assert not (tmp_path / ".venv").exists()


def test_missing_python_is_told(tmp_path: Path) -> None:
    """Without any Python the message says which to install."""
    done = make(tmp_path, tmp_path / "bin" / "nowhere")
    assert done.returncode != 0
    assert "3.11 to 3.13" in done.stdout


BEHIND = ".venv/.test"


def test_browser_is_installed_for_root_on_debian(tmp_path: Path) -> None:
    """Chromium for the tests of the 3D page is installed as root, and said so."""
    (tmp_path / ".venv").mkdir()
    (tmp_path / ".venv" / ".test").touch()
    apt = f'#!/bin/sh\necho "$*" >>{tmp_path}/apt.log\n'
    done = make(
        tmp_path,
        Path(sys.executable),
        stamp=".venv/.browser",
        done=BEHIND,
        id="#!/bin/sh\necho 0\n",
        apt_get=apt,
    )
    assert done.returncode == 0, done.stderr
    assert "chromium" in (tmp_path / "apt.log").read_text().splitlines()[1].split()
    assert "Installing chromium" in done.stdout


def test_missing_browser_is_told_and_does_not_stop_the_tests(tmp_path: Path) -> None:
    """Without Chromium, what is skipped and the line to type are printed, and tests go on."""
    (tmp_path / ".venv").mkdir()
    (tmp_path / ".venv" / ".test").touch()
    done = make(
        tmp_path, Path(sys.executable), stamp=".venv/.browser", done=BEHIND, id="#!/bin/sh\necho 1000\n"
    )
    assert done.returncode == 0, done.stderr
    assert "are skipped. To run them: sudo apt-get install chromium" in done.stdout


def test_the_demo_makes_the_folder_its_plan_goes_into() -> None:
    """A plan is not written below a folder that is not there, so the demo makes it first."""
    text = (ROOT / "Makefile").read_text("utf-8")
    recipe = text.split("\ndemo:", 1)[1].split("\n\n", 1)[0]
    out = re.search(r"--out (\S+)/[^/\s]+", recipe)
    assert out is not None
    assert f"mkdir -p {out[1]}" in recipe
