"""No number without a unit, a spread and a source that someone can look up."""

from __future__ import annotations

import re
from importlib import resources
from pathlib import Path

import pytest

from claybed.errors import InputError
from claybed.materials import shelf

SOURCES = Path(__file__).parents[2] / "docs" / "sources.md"
KEYS = dict(re.findall(r"^\| `([^`]+)` \|.*\| (\w+) \|$", SOURCES.read_text("utf-8"), re.M))
ENTRIES = [(file, name, constant) for file in shelf.FILES for name, constant in shelf.entries(file).items()]
SUFFIX = {
    "g/ml": "g_per_ml",
    "-": ("fraction", "ratio", "factor", "count"),
    "per 100": "per_100",
    "kJ/kg": "kJ_per_kg",
    "kJ/(kg K)": "kJ_per_kg_K",
    "mm/min^0.5": "mm_per_sqrt_min",
    "N/m": "N_per_m",
    "mm2/min": "mm2_per_min",
    "mm2/s": "mm2_per_s",
    "kPa": "kPa",
    "m/s": "m_per_s",
    "kg/(m2 h)": "kg_per_m2_h",
    "ml/h": "ml_per_h",
    **{
        unit: unit
        for unit in (
            "mm",
            "mm2",
            "mm3",
            "ml",
            "l",
            "kg",
            "g",
            "lb",
            "gal",
            "min",
            "h",
            "d",
            "deg",
            "C",
            "GPa",
        )
    },
}


@pytest.mark.parametrize(("file", "name", "constant"), ENTRIES, ids=[f"{f}.{n}" for f, n, _ in ENTRIES])
def test_every_number_has_a_source(file: str, name: str, constant: shelf.Constant) -> None:
    """Each constant must cite a key of docs/sources.md that was known in a way that backs it."""
    assert constant.source in KEYS, f"{file}.{name}"
    if constant.seen in ("memory", "practice", "chosen"):
        assert KEYS[constant.source] == constant.seen
    else:
        assert KEYS[constant.source] in ("read", "transcribed", "derived")


@pytest.mark.parametrize(("file", "name", "constant"), ENTRIES, ids=[f"{f}.{n}" for f, n, _ in ENTRIES])
def test_every_name_carries_its_unit(file: str, name: str, constant: shelf.Constant) -> None:
    """Each name must end in its unit and the value must lie within its spread."""
    suffixes = SUFFIX[constant.unit]
    for suffix in (suffixes,) if isinstance(suffixes, str) else suffixes:
        if name.endswith(f"_{suffix}"):
            break
    else:
        pytest.fail(f"{file}.{name} does not say its unit, {constant.unit}")
    assert constant.low <= constant.value <= constant.high


def test_every_data_file_is_on_the_shelf() -> None:
    """A data file that no one can look up is a slip."""
    folder = resources.files("claybed.materials").joinpath("data")
    assert sorted(file.name for file in folder.iterdir()) == sorted(f"{name}.toml" for name in shelf.FILES)


def test_sources_are_used_or_named() -> None:
    """Each key of docs/sources.md must be cited somewhere, or it is clutter."""
    root = Path(__file__).parents[2]
    cited = {constant.source for _, _, constant in ENTRIES}
    for file in [*root.glob("src/claybed/**/*.py"), *root.glob("tests/references/*.toml")]:
        text = file.read_text("utf-8")
        cited |= {key for key in KEYS if f"[{key}]" in text or f'"{key}"' in text}
    assert set(KEYS) - cited == set()


def test_unknown_names_are_refused() -> None:
    """A misspelt name must be answered with the name that was meant."""
    with pytest.raises(InputError, match="wall_small_mm"):
        shelf.value("practice", "wall_smal_mm")
    with pytest.raises(InputError, match="Files: plaster"):
        shelf.entries("plastic")
    with pytest.raises(InputError, match="pottery_plaster"):
        shelf.consistency_range("concrete")


@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        ({"source": None}, "missing"),
        ({"value": "25"}, "must be a number"),
        ({"value": True}, "must be a number"),
        ({"value": 99.0}, "outside its spread"),
        ({"seen": "heard"}, "seen must be"),
        ({"colour": "red"}, "unknown"),
    ],
)
def test_incomplete_entries_are_refused(change: dict[str, object], complaint: str) -> None:
    """An entry without a source, a number or an honest origin must not load."""
    row: dict[str, object] = {
        "value": 25.0, "unit": "mm", "low": 20.0, "high": 30.0, "source": "practice", "seen": "practice",
    }  # fmt: skip
    assert shelf._constant("practice.wall_mm", row).note == ""
    broken = {key: part for key, part in {**row, **change}.items() if part is not None}
    with pytest.raises(ValueError, match=complaint):
        shelf._constant("practice.wall_mm", broken)


def test_the_shelf_is_read_only() -> None:
    """One part of the product must not change a number under another."""
    with pytest.raises(TypeError):
        shelf.entries("practice")["wall_small_mm"] = shelf.value("practice", "wall_large_mm")  # type: ignore[index]
