"""The studio's file: what it may say, where it is looked for, and what a plan takes from it."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from claybed.actions.asking import brief_from
from claybed.actions.studio_file import (
    band_typed,
    boards_typed,
    bucket_typed,
    kept_fields,
    own_path,
    person_typed,
    read_studio,
    studio_from,
    studio_path,
    studio_toml,
    write_studio,
)
from claybed.errors import InputError
from claybed.records.brief import Brief
from claybed.records.studio import Band, BoardSet, Bucket, Person, PlasterLot, Studio

NINEPIN = Studio(
    name="Ninepin Yard",
    units="us",
    boards=(BoardSet("long", 600.0, 200.0, 18.0, 4, "ply"), BoardSet("short", 300.0, 160.0, 12.0, 2, "mdf")),
    bands=(Band("tall", 1500.0, 300.0, "steel"),),
    buckets=(Bucket(10.0, 2), Bucket(5.0, 1)),
    drills=2,
    people=(Person("Ros", "staff"), Person("Class", "school")),
    scale_step_g=5.0,
    plasters=(PlasterLot("pottery_plaster", "4471", "2026-10-02", 74.0),),
    consistency=77.0,
    lift_kg=14.0,
    bench_mm=880.0,
    shelf_mm=1600.0,
    release="wax",
    water_celsius=14.0,
)


def test_a_file_reads_back_the_same(tmp_path: Path) -> None:
    """What is written is read back, entry by entry; so is a studio of which nothing is known."""
    path = tmp_path / "deep" / "studio.toml"
    write_studio(NINEPIN, path, replace=False)
    assert read_studio(path) == NINEPIN
    write_studio(Studio(), path, replace=True)
    assert read_studio(path) == Studio()


@given(st.text(max_size=40), st.floats(50.0, 3000.0), st.floats(5.0, 40.0), st.integers(1, 12))
def test_any_name_and_size_survive(name: str, length_mm: float, thickness_mm: float, count: int) -> None:
    """Names with quotes, slashes and signs of any alphabet, and sizes to six digits, survive the file."""
    rounded = [float(f"{value:g}") for value in (length_mm, thickness_mm)]
    boards = (BoardSet(name, rounded[0], 200.0, rounded[1], count),)
    text = studio_toml(Studio(name=name, boards=boards))
    try:
        found = studio_from(tomllib.loads(text), "file")
    except tomllib.TOMLDecodeError:
        # TOML has no way to hold control characters in a plain string.
        assert any(ord(sign) < 32 or ord(sign) == 127 for sign in name)
        return
    assert found.boards[0].length_mm == rounded[0]
    assert found.boards[0].count == count
    assert found.name == name.replace("\n", " ")


def test_an_earlier_file_is_not_lost(tmp_path: Path) -> None:
    """A studio's file is written over only when that is asked for, and a place that cannot be is refused."""
    path = tmp_path / "studio.toml"
    write_studio(NINEPIN, path, replace=False)
    with pytest.raises(InputError, match="already"):
        write_studio(Studio(), path, replace=False)
    assert read_studio(path) == NINEPIN
    with pytest.raises(InputError, match="cannot be written"):
        write_studio(Studio(), path / "below.toml", replace=False)
    assert [file.name for file in tmp_path.iterdir()] == ["studio.toml"]


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ({"ration": "1:1.3"}, "Try ratio"),
        ({"ratio": 1.3}, "short text"),
        ({"ratio": "3:1"}, "more water than plaster"),
        ({"ratio": "1:90"}, "no plaster mix"),
        ({"bench": "high"}, "not a length"),
        ({"drills": -1}, "Use 0 to"),
        ({"drills": True}, "whole number"),
        ({"units": "imperial"}, "not one of"),
        ({"water": "99C"}, "not for plaster"),
        ({"lift": "16"}, "no unit"),
        ({"boards": {"length": "600mm"}}, "must be a list"),
        ({"boards": ["long"]}, "named entries"),
        ({"boards": [{"name": "long", "length": "600mm"}]}, "height and thickness is missing"),
        ({"boards": [{"name": "x", "length": "0mm", "height": "1mm", "thickness": "1mm"}]}, "above 0"),
        ({"boards": [{"name": "x", "lenght": "600mm"}]}, "Try length"),
        ({"plasters": [{"kind": "concrete"}]}, "not known"),
        ({"plasters": [{"kind": "pottery_plaster", "opened": "spring"}]}, "not a day"),
        ({"people": [{"name": "Ros", "lifts": "crane"}]}, "not one of"),
        ({"buckets": [{"volume": "0L"}]}, "above 0"),
    ],
)
def test_what_cannot_be_is_refused(content: dict[str, Any], says: str) -> None:
    """A wrong entry is named with what is wrong and what to write."""
    with pytest.raises(InputError) as refused:
        studio_from(content, "studio.toml")
    assert says in str(refused.value)


@pytest.mark.parametrize("text", ["ratio = ", "boards = [[", "\x00"])
def test_a_broken_file_is_refused(tmp_path: Path, text: str) -> None:
    """A file that is no TOML is an error with its line, never a trace."""
    path = tmp_path / "studio.toml"
    path.write_text(text)
    with pytest.raises(InputError, match="cannot be read"):
        read_studio(path)
    path.write_bytes(b"#" * 300_000)
    with pytest.raises(InputError, match="too long"):
        read_studio(path)


def test_where_the_file_is_looked_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As asked, else CLAYBED_STUDIO, else the user's own; what was named must be there."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.delenv("CLAYBED_STUDIO", raising=False)
    assert own_path() == tmp_path / "config" / "claybed" / "studio.toml"
    assert studio_path(None) is None
    write_studio(NINEPIN, own_path(), replace=False)
    assert studio_path(None) == own_path()
    named, asked = tmp_path / "named.toml", tmp_path / "asked.toml"
    monkeypatch.setenv("CLAYBED_STUDIO", str(named))
    with pytest.raises(InputError, match="CLAYBED_STUDIO"):
        studio_path(None)
    for path in (named, asked):
        write_studio(NINEPIN, path, replace=False)
    assert studio_path(None) == named
    assert studio_path(asked) == asked
    with pytest.raises(InputError, match="--studio"):
        studio_path(tmp_path / "none.toml")


def test_a_plan_takes_what_the_studio_keeps() -> None:
    """Boards, ratio, bucket, lift and habits become the brief's defaults, and what is typed wins."""
    brief = brief_from({}, kept_fields(NINEPIN))
    assert brief.boards == NINEPIN.boards and brief.bands == NINEPIN.bands
    assert brief.consistency == 74.0  # the sack's own ratio before the studio's
    assert brief.bucket_l == pytest.approx(6.5)  # the largest bucket, filled to 65 %
    assert (brief.lift_kg, brief.drills, brief.release, brief.form) == (14.0, 2, "wax", "boards")
    assert (brief.bench_mm, brief.shelf_mm, brief.scale_step_g) == (880.0, 1600.0, 5.0)
    typed = brief_from({"consistency": "70", "bucket_l": "3L", "lift_kg": "9kg"}, kept_fields(NINEPIN))
    assert (typed.consistency, typed.bucket_l, typed.lift_kg) == (70.0, 3.0, 9.0)
    assert brief_from({}, kept_fields(Studio())) == Brief()


def test_a_large_bucket_is_no_larger_batch_than_one_lifts() -> None:
    """A barrel of 50 l does not make a batch of 32: eight litres are what one person mixes (practice)."""
    assert kept_fields(Studio(buckets=(Bucket(50.0),)))["bucket_l"] == 8.0


def test_a_class_lifts_less() -> None:
    """Where only a class lifts, 12 kg are the most and school's flags hold; without drills it is by hand."""
    kept = kept_fields(Studio(people=(Person("Class", "school"),), drills=0))
    assert (kept["lift_kg"], kept["lifter"], kept["mixing"]) == (12.0, "school", "hand")
    assert kept_fields(Studio(people=(Person("Class", "school"), Person("Ros"))))["lift_kg"] == 16.0


@pytest.mark.parametrize(
    ("text", "boards"),
    [
        ("4 600x200x18mm ply", BoardSet("600 × 200", 600.0, 200.0, 18.0, 4, "ply")),
        ("600x200x18mm", BoardSet("600 × 200", 600.0, 200.0, 18.0, 4, "mdf")),
        ("2 60x20x1.8cm", BoardSet("600 × 200", 600.0, 200.0, 18.0, 2, "mdf")),
    ],
)
def test_boards_as_they_are_typed(text: str, boards: BoardSet) -> None:
    """How many, length x height x thickness, made of what; the first and last may be left out."""
    assert boards_typed(text, where="--boards") == boards


def test_other_things_as_they_are_typed() -> None:
    """Bands, buckets and people as on the command line; what is no size is refused."""
    assert band_typed("1500x300mm steel", where="--band") == Band("1500 × 300", 1500.0, 300.0, "steel")
    assert bucket_typed("2 10L", where="--bucket") == Bucket(10.0, 2)
    assert bucket_typed("5 gal", where="--bucket").volume_l == pytest.approx(18.927, abs=1e-3)
    assert person_typed("Ros", where="--person") == Person("Ros", "staff")
    assert person_typed("Class: school", where="--person") == Person("Class", "school")
    for read, text in (
        (boards_typed, "4 600x200"),
        (band_typed, "long"),
        (bucket_typed, "10"),
        (person_typed, "A: b"),
    ):
        with pytest.raises(InputError):
            read(text, where="here")
