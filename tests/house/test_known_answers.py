"""The page of shapes whose answer is known names tests that exist, and each shape has one."""

from __future__ import annotations

import ast
import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def test_every_known_answer_is_held_by_tests_that_exist() -> None:
    """Each row of the table names one test or more, by file and function."""
    lines = (ROOT / "docs" / "known-answers.md").read_text("utf-8").splitlines()
    rows = [line for line in lines if line.startswith("|")][2:]
    assert len(rows) >= 15
    for row in rows:
        named = re.findall(r"`(tests/[a-z_/]+\.py)::(test_[a-z_0-9]+)`", row)
        assert named, row
        for file, name in named:
            tree = ast.parse((ROOT / file).read_text("utf-8"))
            assert name in {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}, (
                file,
                name,
            )
