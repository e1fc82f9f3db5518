"""A number with a dimension wears its unit in its name."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

SOURCE = Path(__file__).resolve().parents[2] / "src" / "claybed"
MODULES = sorted(SOURCE.rglob("*.py"))

UNITS = {
    "mm", "mm2", "mm3", "cm2", "m", "m2", "m3", "ml", "l", "g", "kg", "s", "min", "h", "d", "minutes",
    "hours", "days", "deg", "rad", "sr",
    "percent", "fraction", "c", "k", "j", "w", "pa", "kpa", "mpa", "n", "mb", "px", "pt", "ratio", "count",
    "factor", "share", "parts", "celsius", "newtons", "grams", "100",
}  # fmt: skip
# Pure numbers, and amounts whose unit stands beside them in the same record or table.
WITHOUT_UNIT = {
    "value", "low", "high", "measured", "limit", "amount", "number", "waste", "consistency",
    "volume_rel_95", "done", "share", "factor", "scale", "weight", "tolerance", "seconds", "margin",
    "scatter", "exponent", "relative_density", "slurry_relative_density", "x", "y", "z", "x0", "y0",
}  # fmt: skip


def wears_its_unit(name: str) -> bool:
    """Tell whether a name ends in a unit ("wall_mm", "rate_g_per_s") or is a known pure number."""
    bare = name.strip("_").casefold()
    words = bare.split("_")
    return bare in WITHOUT_UNIT or words[-1] in UNITS or "per" in words[:-1]


def floats_of(path: Path) -> list[tuple[int, str]]:
    """Return line and name of the annotated floats of a module: fields, and arguments of public functions."""
    found: list[tuple[int, str, ast.expr]] = []
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.ClassDef):
            for part in node.body:
                if isinstance(part, ast.AnnAssign) and isinstance(part.target, ast.Name):
                    found.append((part.lineno, part.target.id, part.annotation))
        elif isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            arguments = node.args.posonlyargs + node.args.args + node.args.kwonlyargs
            found += [
                (one.lineno, one.arg, one.annotation) for one in arguments if one.annotation is not None
            ]
    is_float = re.compile(r"float( \| None)?")
    return [(line, name) for line, name, note in found if is_float.fullmatch(ast.unparse(note))]


def test_floats_wear_their_unit() -> None:
    """A float that a record holds or a public function takes names its unit, if it has one."""
    found = [(path, line, name) for path in MODULES for line, name in floats_of(path)]
    assert found
    bare = [(path, line, name) for path, line, name in found if not wears_its_unit(name)]
    assert [f"{path.relative_to(SOURCE).as_posix()}:{line}: {name}" for path, line, name in bare] == []


@pytest.mark.parametrize(
    ("text", "bare"),
    [
        ("class A:\n    wall_mm: float\n    rate_g_per_s: float | None = None", []),
        ("class A:\n    wall: float", ["wall"]),
        ("def pour(height: float, *, waste: float = 0.1) -> float: ...", ["height"]),
        ("def _inner(height: float) -> float: ...", []),
    ],
)
def test_the_rule_tells_names_apart(tmp_path: Path, text: str, bare: list[str]) -> None:
    """The rule accepts a name with a unit, refuses one without, and looks at fields and public arguments."""
    (tmp_path / "one.py").write_text(text)
    assert [name for _, name in floats_of(tmp_path / "one.py") if not wears_its_unit(name)] == bare
