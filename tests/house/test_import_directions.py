"""Imports run downhill, and every contract that says so notices when it is broken."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

NOT_ALLOWED = "claybed.{} is not allowed to import claybed.{}".format
# contract, module to write into, what it imports, what the report must name
BREAKS = [
    ("direction", "physics/stray.py", "import claybed.geometry.mesh", NOT_ALLOWED("physics", "geometry")),
    ("direction", "pours/stray.py", "import claybed.survey", NOT_ALLOWED("pours", "survey")),
    ("direction", "proof/stray.py", "import claybed.mold", NOT_ALLOWED("proof", "mold")),
    ("direction", "records/stray.py", "import claybed.flow", NOT_ALLOWED("records", "flow")),
    ("direction", "sheets/stray.py", "import claybed.jobs.worker", NOT_ALLOWED("sheets", "jobs")),
    ("direction", "units.py", "def late():\n    import claybed.records", NOT_ALLOWED("units", "records")),
    ("direction", "elsewhere/__init__.py", "", "elsewhere"),
    ("no-rings", "errors.py", "import claybed.units", ".units -> .errors"),
    ("front-door", "cli/stray.py", "from claybed.pours import mixing", "claybed.cli.stray -> claybed.pours"),
    ("front-door", "cli/stray.py", "import claybed.sheets", "claybed.cli.stray -> claybed.sheets"),
    ("pages", "web/stray.py", "from claybed.pours import mixing", "claybed.web.stray -> claybed.pours"),
    ("door-web", "actions/stray.py", "import fastapi", "claybed.actions.stray -> fastapi"),
    ("light-root", "__init__.py", "from claybed.cli import app", "claybed -> claybed.cli.app"),
    ("plain-physics", "physics/stray.py", "import numpy", "claybed.physics.stray -> numpy"),
    ("pure-thinking", "geometry/stray.py", "from pathlib import Path", "claybed.geometry.stray -> pathlib"),
    ("door-screen", "actions/stray.py", "import rich.table", "claybed.actions.stray -> rich"),
    ("door-paper", "actions/stray.py", "import typst", "claybed.actions.stray -> typst"),
    ("door-meshes", "mold/stray.py", "import trimesh", "claybed.mold.stray -> trimesh"),
    ("door-meshes", "proof/stray.py", "from manifold3d import Manifold", "claybed.proof.stray -> manifold3d"),
    ("door-register", "actions/stray.py", "import sqlite3", "claybed.actions.stray -> sqlite3"),
    ("door-air", "ware/stray.py", "import psychrolib", "claybed.ware.stray -> psychrolib"),
    ("door-pictures", "actions/stray.py", "import cv2", "claybed.actions.stray -> cv2"),
    ("door-processes", "actions/stray.py", "import multiprocessing", "actions.stray -> multiprocessing"),
]


def lint(source: Path, *contracts: str) -> subprocess.CompletedProcess[str]:
    """Run the import linter of this Python over the package below `source`, with the project's contracts."""
    command = [sys.executable, "-c", "from importlinter.cli import lint_imports_command as run; run()"]
    command += ["--no-cache", *(word for contract in contracts for word in ("--contract", contract))]
    return subprocess.run(
        command,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(source), "NO_COLOR": "1", "COLUMNS": "200"},
        capture_output=True,
        text=True,
        check=False,
    )


def only_modules(folder: str, names: list[str]) -> list[str]:
    """Return what need not be copied of a folder: everything that is neither a folder nor a module."""
    return [name for name in names if Path(folder, name).is_file() and not name.endswith(".py")]


def test_imports_run_downhill() -> None:
    """Every contract of .importlinter holds for the package as it is."""
    report = lint(ROOT / "src")
    assert report.returncode == 0, report.stdout + report.stderr


def test_every_contract_is_tried() -> None:
    """No contract is left out of the breakages below."""
    lines = (ROOT / ".importlinter").read_text().splitlines()
    named = {line.rpartition(":")[2].rstrip("]") for line in lines if line.startswith("[importlinter:")}
    assert named == {contract for contract, *_ in BREAKS}


@pytest.mark.parametrize(("contract", "module", "text", "named"), BREAKS)
def test_a_broken_contract_is_noticed(
    tmp_path: Path, contract: str, module: str, text: str, named: str
) -> None:
    """One bad import, put into a copy of the package, breaks its contract and is named in the report."""
    copy = tmp_path / "claybed"
    shutil.copytree(ROOT / "src" / "claybed", copy, ignore=only_modules)
    place = copy / module
    place.parent.mkdir(exist_ok=True)
    before = place.read_text() if place.exists() else ""
    place.write_text(f"{before}\n{text}\n")
    report = lint(tmp_path, contract)
    assert report.returncode != 0, report.stdout
    assert named in " ".join(report.stdout.split()), report.stdout
