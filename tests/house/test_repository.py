"""The repository about itself: sizes, names and words of its text."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "claybed"
FOLDERS = ("src", "tests", "benchmarks", "tools")
MODULES = sorted(path for folder in FOLDERS for path in (ROOT / folder).rglob("*.py"))
OWN_MODULES = [path for path in MODULES if path.is_relative_to(SOURCE)]
TEST_MODULES = [path for path in MODULES if path.name.startswith("test_")]
DOCUMENTS = ("*.md", "docs/**/*.md", "Makefile", "src/**/*.toml", "src/**/*.typ", "src/claybed/scene/*")
TEXTS = MODULES + sorted(
    path for pattern in DOCUMENTS for path in ROOT.glob(pattern) if path.is_file() and path.suffix != ".py"
)
MOST_LINES = 400
EMPTY_NAMES = {
    "utils", "util", "helpers", "helper", "common", "core", "manager", "managers", "misc", "lib", "shared",
}  # fmt: skip


def name_of(path: Path) -> str:
    """Return a path relative to the repository, as a test's name."""
    return path.relative_to(ROOT).as_posix()


@cache
def tree(path: Path) -> ast.Module:
    """Return the syntax tree of a module."""
    return ast.parse(path.read_text("utf-8"), str(path))


def test_modules_are_short() -> None:
    """No module is longer than a person reads in one sitting."""
    lines = {name_of(path): len(path.read_text("utf-8").splitlines()) for path in MODULES}
    assert {name: count for name, count in lines.items() if count > MOST_LINES} == {}


def test_names_say_what_is_inside() -> None:
    """No folder or module has a name that would suit any program."""
    places = [path.relative_to(ROOT).with_suffix("") for path in MODULES]
    assert not {part.strip("_") for place in places for part in place.parts} & EMPTY_NAMES


def test_test_modules_have_names_of_their_own() -> None:
    """No two test modules have the same file name: pytest would collect only the first."""
    names = [path.name for path in MODULES if ROOT / "tests" in path.parents and path.name != "conftest.py"]
    assert sorted({name for name in names if names.count(name) > 1} - {"__init__.py"}) == []


def names_touched(module: ast.Module) -> set[str]:
    """Return dotted names that a module imports or reads as an attribute of a plain name."""
    touched = set()
    for node in ast.walk(module):
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            touched.add(f"{node.value.id}.{node.attr}")
        elif isinstance(node, ast.Import):
            touched |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            touched |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
    return touched


def under_another_licence(module: ast.Module) -> list[str]:
    """Return what a module touches of igl's parts that are not under its own licence."""
    return [name for name in names_touched(module) if re.match(r"igl\.(copyleft|triangle)\b", name)]


def test_igl_parts_under_other_licences_are_not_used() -> None:
    """The copyleft and triangle parts of igl, whose licences are not ours, are never touched."""
    touched = {name_of(path): under_another_licence(tree(path)) for path in OWN_MODULES}
    assert {name: parts for name, parts in touched.items() if parts} == {}


@pytest.mark.parametrize(
    "text",
    [
        "import igl.triangle",
        "from igl import copyleft",
        "from igl.copyleft.cgal import x",
        "igl.triangle.go()",
    ],
)
def test_igl_parts_under_other_licences_are_noticed(text: str) -> None:
    """Each way of touching those parts is noticed."""
    assert under_another_licence(ast.parse(text))


def test_tests_say_what_must_hold() -> None:
    """Every test has a sentence."""
    tests = [
        (path, node)
        for path in TEST_MODULES
        for node in ast.walk(tree(path))
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test")
    ]
    assert len(tests) > len(TEST_MODULES)
    mute = [(path, node) for path, node in tests if not (ast.get_docstring(node) or "").strip()]
    assert [f"{name_of(path)}: {node.name}" for path, node in mute] == []


def test_nothing_is_left_for_later() -> None:
    """No note of unfinished work stays in the text."""
    left = re.compile("|".join((r"\bTO" + "DO", r"\bFIX" + "ME", r"\bX" + r"XX\b", r"\bHA" + r"CK\b")))
    found = {name_of(path): left.findall(path.read_text("utf-8")) for path in TEXTS}
    assert {name: notes for name, notes in found.items() if notes} == {}


def strings_shown(module: ast.Module) -> Iterator[str]:
    """Yield the string constants of a module that are not docstrings."""
    documents = set()
    for node in ast.walk(module):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef) and node.body:
            first = node.body[0]
            if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant):
                documents.add(id(first.value))
    for node in ast.walk(module):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in documents:
            yield node.value


def test_nothing_shown_claims_that_it_cannot_harm() -> None:
    """No string or template says "safe": plaster, weight and heat are for a person to judge."""
    claim = re.compile(r"\bsafe(?:ly|r|st)?\b", re.IGNORECASE)
    texts = {name_of(path): " ".join(strings_shown(tree(path))) for path in OWN_MODULES}
    for pattern in ("**/*.typ", "scene/*.html", "scene/*.js", "materials/data/*.toml"):
        texts |= {name_of(path): path.read_text("utf-8") for path in SOURCE.glob(pattern)}
    assert [name for name, text in texts.items() if claim.search(text)] == []


def missing_from_source(module: ast.Module) -> list[str]:
    """Return what a module imports from the package by name and the package does not have."""
    missing = []
    for node in ast.walk(module):
        if not isinstance(node, ast.ImportFrom) or not (node.module or "").startswith("claybed"):
            continue
        home = SOURCE.joinpath(*str(node.module).split(".")[1:])
        file = home / "__init__.py" if home.is_dir() else home.with_suffix(".py")
        if not file.is_file():
            missing.append(str(node.module))
            continue
        has = set()
        for part in tree(file).body:
            if isinstance(part, (ast.FunctionDef, ast.ClassDef)):
                has.add(part.name)
            elif isinstance(part, (ast.Import, ast.ImportFrom)):
                has |= {alias.asname or alias.name for alias in part.names}
            elif isinstance(part, (ast.Assign, ast.AnnAssign)):
                targets = part.targets if isinstance(part, ast.Assign) else [part.target]
                has |= {
                    name.id for target in targets for name in ast.walk(target) if isinstance(name, ast.Name)
                }
        for alias in node.names:
            if alias.name not in has and not any(
                (home / alias.name).with_suffix(s).exists() for s in ("", ".py")
            ):
                missing.append(f"{node.module}.{alias.name}")
    return missing


def test_benchmarks_ask_for_what_there_is() -> None:
    """No test runs the benchmarks; every name that they import from the package is still there."""
    assert missing_from_source(ast.parse("from claybed.proof.evidence import prove, gone")) == [
        "claybed.proof.evidence.gone"
    ]
    scripts = sorted((ROOT / "benchmarks").glob("*.py"))
    assert len(scripts) > 5
    assert {name_of(path): missing_from_source(tree(path)) for path in scripts} == {
        name_of(path): [] for path in scripts
    }
