"""Every formula says what it is, in which units, where it holds and where it comes from."""

from __future__ import annotations

import doctest
import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import claybed.physics

SOURCES = Path(__file__).parents[2] / "docs" / "sources.md"
SECTIONS = ("Parameters", "Returns", "Raises", "Notes", "References", "Examples")
# Suffix of a name -> unit in the docstring; the longest suffix that fits counts.
UNITS = {
    "per_100": "per 100",
    "parts": "-",
    "fraction": "-",
    "ratio": "-",
    "kg": "kg",
    "kg_per_m3": "kg/m3",
    "kg_per_m2": "kg/m2",
    "kg_per_mol": "kg/mol",
    "kg_per_m2_sqrt_s": "kg/(m2 s0.5)",
    "m": "m",
    "m3": "m3",
    "m3_per_kg": "m3/kg",
    "m3_per_mol": "m3/mol",
    "m_per_sqrt_s": "m/s0.5",
    "s": "s",
    "K": "K",
    "C": "C",
    "N": "N",
    "deg": "deg",
    "per_min": "1/min",
    "N_per_m": "N/m",
    "Pa": "Pa",
    "J_per_kg": "J/kg",
    "J_per_mol": "J/mol",
    "J_per_kg_K": "J/(kg K)",
    "m2": "m2",
    "m2_per_s": "m2/s",
    "m_per_s": "m/s",
    "Pa_s": "Pa s",
    "W_per_m2_K": "W/(m2 K)",
    "kg_per_m2_s": "kg/(m2 s)",
    "kg_per_kg": "kg/kg",
    "s_per_m6": "s/m6",
    "s_per_m3": "s/m3",
    "per_m2": "1/m2",
    "per_m": "1/m",
}
MODULES = [
    importlib.import_module(f"claybed.physics.{info.name}")
    for info in pkgutil.iter_modules(claybed.physics.__path__)
]
FUNCTIONS: list[Callable[..., Any]] = [
    member
    for module in MODULES
    for name, member in inspect.getmembers(module, inspect.isfunction)
    if member.__module__ == module.__name__
    and not name.startswith("_")
    and not module.__name__.rpartition(".")[2].startswith("_")
]


def unit_of_name(name: str) -> str | None:
    """The unit that the suffix of a name says, by the longest suffix that fits."""
    fits = [suffix for suffix in UNITS if name == suffix or name.endswith(f"_{suffix}")]
    return UNITS[max(fits, key=len)] if fits else None


def section(doc: str, title: str) -> str:
    """Body of one section of a docstring, empty when it is not there."""
    found = re.search(rf"^{title}\n-+\n(.*?)(?=^\w+\n-+\n|\Z)", doc, re.M | re.S)
    return found.group(1) if found else ""


def documented_units(doc: str) -> dict[str, str]:
    """Unit in brackets of each documented parameter of type float."""
    rows = re.findall(r"^(\w+) : float\n((?:    .*\n?)+)", section(doc, "Parameters"), re.M)
    return {name: (re.findall(r"\[([^\]]+)\]\s*$", text.strip()) or ["none"])[0] for name, text in rows}


def faults(function: Callable[..., Any]) -> list[str]:
    """What a formula's docstring lacks, or gets wrong against its signature."""
    doc = inspect.getdoc(function) or ""
    signature = inspect.signature(function, eval_str=True)
    wanted = [title for title in SECTIONS if signature.parameters or title not in ("Parameters", "Raises")]
    found = [f"lacks {title}" for title in wanted if not section(doc, title).strip()]
    units = documented_units(doc)
    for name, parameter in signature.parameters.items():
        if parameter.annotation is not float:
            continue
        if unit_of_name(name) is None:
            found.append(f"{name} carries no unit")
        elif units.get(name) != unit_of_name(name):
            found.append(f"{name} is [{unit_of_name(name)}] by name and [{units.get(name)}] in words")
    if signature.return_annotation is float:
        returned = (re.findall(r"\[([^\]]+)\]", section(doc, "Returns")) or ["none"])[0]
        if unit_of_name(function.__name__) != returned:
            found.append(f"returns [{returned}], named for [{unit_of_name(function.__name__)}]")
    return found


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda f: f.__name__)
def test_formula_is_described(function: Callable[..., Any]) -> None:
    """Each public function of physics must carry all sections, and units that its names agree with."""
    assert faults(function) == []


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda f: f.__name__)
def test_references_are_explained(function: Callable[..., Any]) -> None:
    """Each reference of a formula must be a key of docs/sources.md."""
    known = set(re.findall(r"^\| `([^`]+)` \|", SOURCES.read_text("utf-8"), re.M))
    cited = set(re.findall(r"\[([\w-]+)\]", section(inspect.getdoc(function) or "", "References")))
    assert cited and cited <= known


@pytest.mark.parametrize("module", MODULES, ids=lambda m: m.__name__)
def test_examples_run(module: Any) -> None:
    """Each example in a docstring must give what stands below it, and each formula must have one."""
    outcome = doctest.testmod(module)
    assert outcome.failed == 0
    assert outcome.attempted >= sum(f.__module__ == module.__name__ for f in FUNCTIONS)


def test_the_check_itself_can_fail() -> None:
    """A wrong unit, a missing section and a bare name must each be caught."""

    def length_m(width_mm: float, depth_m: float, height: float) -> float:
        """Wrong.

        Parameters
        ----------
        depth_m : float
            Depth, [mm]

        Returns
        -------
        float
            Length, [mm]
        """
        return width_mm + depth_m + height

    assert faults(length_m) == [
        "lacks Raises",
        "lacks Notes",
        "lacks References",
        "lacks Examples",
        "width_mm carries no unit",
        "depth_m is [m] by name and [mm] in words",
        "height carries no unit",
        "returns [mm], named for [m]",
    ]
