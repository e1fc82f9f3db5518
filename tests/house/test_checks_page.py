"""The page of checks names every check that a plan and its proof can make, and no other."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
MAKERS = ("proof", "flow/side_seams.py", "flow/flowing.py", "flow/gate_sparing.py", "actions/plan_solids.py")
# Ids of the same modules that are findings, told in sentences.
FINDINGS = {
    "fill_tilted",
    "vent_needed",
    "drain_by_turning",
    "drain_tilted",
    "closes_off",
    "casts_solid",
    "ends_solid",
    "slip_stays",
}


def made() -> set[str]:
    """The ids of checks in the code, without what follows for a solid."""
    code = ""
    for name in MAKERS:
        path = ROOT / "src" / "claybed" / name
        for file in sorted(path.rglob("*.py")) if path.is_dir() else [path]:
            code += file.read_text("utf-8")
    ids = re.findall(
        r'(?:\bid=|Check\(|_faultless\()f?"(?:\{prefix\})?([^"{]*(?:\{FILE_PREFIX\}whole)?)', code
    )
    return {i.replace("{FILE_PREFIX}", "file_").rstrip("_") for i in ids} - FINDINGS - {""}


def test_every_check_is_on_the_page() -> None:
    """What the code calls a check is in the tables or the text, and each row of a table is made."""
    page = (ROOT / "docs" / "checks.md").read_text("utf-8")
    named = set(re.findall(r"`([a-z_]+)`", page))
    rows = set(re.findall(r"^\| `([a-z_]+)`", page, re.MULTILINE))
    ids = made() | {"release", "model_leaves_last"}
    assert len(ids) > 20
    assert sorted(ids - named) == []
    assert sorted(rows - ids) == []
