"""The store on disk: records come back whole, damaged and foreign ones do not, and it stays within bounds."""

from __future__ import annotations

import json
import os
import pickle
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from claybed.actions import storing
from claybed.actions.storing import DiskStore, cache_folder, source_of
from claybed.flow.course import run_course
from claybed.records.assembly import Assembly
from claybed.records.brief import Brief
from claybed.records.finding import Amount, Finding
from claybed.records.measured import MeasuredObject
from tests.pieces import solids
from tests.survey.objects import measured


@pytest.fixture
def store(tmp_path: Path) -> DiskStore:
    """A store in an empty folder that does not exist yet."""
    return DiskStore(tmp_path / "kept" / "here")


def test_a_measured_object_comes_back(store: DiskStore) -> None:
    """A record with arrays and nested records is the same after a trip to the disk."""
    found = Finding("thin", "look", "the rim", "It is thin.", amount=Amount(2.0, "mm"), at_mm=(1.0, 2.0, 3.0))
    before = replace(measured(solids.sphere(20.0, subdivisions=2)), findings=(found,))
    store.put("key", before)
    after = store.get("key")
    assert isinstance(after, MeasuredObject)
    assert after is not before
    assert (after.findings, after.unit, after.extent_mm) == (before.findings, before.unit, before.extent_mm)
    np.testing.assert_array_equal(after.mesh.vertices_mm, before.mesh.vertices_mm)
    np.testing.assert_array_equal(after.mesh.origin, before.mesh.origin)
    assert store.get("other") is None


def test_a_whole_course_comes_back(store: DiskStore, monkeypatch: pytest.MonkeyPatch) -> None:
    """A second run finds every stage on the disk, in a new store too, and ends with the same plan."""
    obj = measured(solids.sphere(25.0, subdivisions=2))
    first = run_course(lambda b, p: obj, Brief(mass_g=None), "file", store, lambda phase, part: None)
    for name in ("survey", "make_mold", "plan_all_pours", "prove"):
        monkeypatch.setattr(f"claybed.flow.course.{name}", None)
    again = DiskStore(store._folder)

    def unread(brief: Brief, progress: Callable[[str, float], None]) -> MeasuredObject:
        raise AssertionError("the file was read again")

    second = run_course(unread, Brief(), "file", again, lambda phase, part: None)
    assert second.poured == first.poured
    assert second.checks == first.checks
    assert second.survey == first.survey
    one, two = first.molded.assembly, second.molded.assembly
    assert isinstance(two, Assembly)
    assert [p.solid.six_volumes for p in one.pieces] == [p.solid.six_volumes for p in two.pieces]


class _Stranger:
    """A pickle that would make a file when it is opened."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def __reduce__(self) -> tuple[Any, ...]:
        return (os.mkdir, (str(self.path),))


@pytest.mark.parametrize(
    "name",
    ["os.system", "builtins.eval", "claybed.flow.store.recall", "claybed.records.plan_schema.plan_schema",
     "claybed.records.assembly.np.load", "pathlib.Path", "claybed.actions.storing.DiskStore", "numpy.load"],
)  # fmt: skip
def test_a_strange_name_is_not_brought_back(store: DiskStore, name: str) -> None:
    """An entry that names anything but records and arrays is not known, whatever it names."""
    module, _, attribute = name.rpartition(".")
    if name.startswith("claybed.records.assembly.np"):
        module, attribute = "claybed.records.assembly", "np.load"
    store.put("key", 1.0)
    path = next(store._folder.iterdir())
    path.write_bytes(b"\x80\x04\x8c" + bytes([len(module)]) + module.encode() + b"\x8c"
                     + bytes([len(attribute)]) + attribute.encode() + b"\x93.")  # fmt: skip
    assert store.get("key") is None


def test_a_strange_record_does_nothing(store: DiskStore, tmp_path: Path) -> None:
    """Opening an entry that would run a call does not run it."""
    store.put("key", 1.0)
    next(store._folder.iterdir()).write_bytes(pickle.dumps(_Stranger(tmp_path / "made")))
    assert store.get("key") is None
    assert not (tmp_path / "made").exists()


@pytest.mark.parametrize("damage", ["empty", "cut", "noise", "folder"])
def test_a_damaged_entry_is_only_forgotten(store: DiskStore, damage: str) -> None:
    """An entry that is empty, cut short, overwritten or not a file is not known, and can be kept again."""
    store.put("key", measured(solids.sphere(10.0, subdivisions=1)))
    path = next(store._folder.iterdir())
    data = path.read_bytes()
    if damage == "folder":
        path.unlink()
        path.mkdir()
    else:
        path.write_bytes({"empty": b"", "cut": data[: len(data) // 2], "noise": b"\x00" * 500}[damage])
    assert store.get("key") is None
    if damage != "folder":
        store.put("key", 2.0)
        assert store.get("key") == 2.0


def test_the_oldest_go_first(tmp_path: Path) -> None:
    """Beyond the number of entries the one that was longest unused goes; being asked for counts as use."""
    store = DiskStore(tmp_path, most_entries=3)
    for k, key in enumerate("abc"):
        store.put(key, float(k))
        for path in tmp_path.iterdir():
            state = path.stat()
            os.utime(path, ns=(state.st_atime_ns, state.st_mtime_ns - 10**9))
    assert store.get("a") == 0.0
    store.put("d", 3.0)
    assert [store.get(key) for key in "abcd"] == [0.0, None, 2.0, 3.0]
    assert len(list(tmp_path.iterdir())) == 3


def test_it_stays_within_its_size(tmp_path: Path) -> None:
    """Beyond the number of bytes the oldest go, and a record larger than all that is not kept at all."""
    store = DiskStore(tmp_path, most_bytes=20_000)
    for k in range(8):
        store.put(str(k), np.full(1000, k, dtype=np.float64))
    assert sum(path.stat().st_size for path in tmp_path.iterdir()) <= 20_000
    kept = store.get("7")
    assert isinstance(kept, np.ndarray)
    assert kept[0] == 7.0
    store.put("large", np.zeros(10_000))
    assert store.get("large") is None
    assert store.get("7") is not None


def test_what_a_killed_run_left_is_swept(tmp_path: Path) -> None:
    """A half-written entry goes once it is old, and stays while another run may be writing it."""
    store = DiskStore(tmp_path)
    old, fresh = tmp_path / ".old.part", tmp_path / ".fresh.part"
    for path in (old, fresh):
        path.write_bytes(b"half")
    os.utime(old, (1.0, 1.0))
    store.put("key", 1.0)
    assert not old.exists()
    assert fresh.exists()


def test_another_edition_knows_nothing(store: DiskStore, monkeypatch: pytest.MonkeyPatch) -> None:
    """Records of another version of the package are not found, and are found again by their own."""
    store.put("key", 1.0)
    with monkeypatch.context() as other:
        other.setattr(storing, "edition", lambda: "another")
        assert store.get("key") is None
    assert store.get("key") == 1.0


def test_a_place_that_cannot_be_written_is_no_error(tmp_path: Path) -> None:
    """Without a folder to write to, everything is simply not known."""
    (tmp_path / "file").write_text("in the way")
    store = DiskStore(tmp_path / "file" / "below")
    store.put("key", 1.0)
    assert store.get("key") is None


def test_the_folder_follows_the_environment(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The cache lies where the environment says, else under the home folder; relative names are not used."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert cache_folder() == tmp_path / "claybed"
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    for value in ("", "relative"):
        monkeypatch.setenv("XDG_CACHE_HOME", value)
        assert cache_folder() == tmp_path / "home" / ".cache" / "claybed"


def test_a_file_is_known_by_content_and_name(tmp_path: Path) -> None:
    """Another byte or another name makes another source; a folder or a missing file has none."""
    one, two, same = tmp_path / "one.stl", tmp_path / "two.stl", tmp_path / "sub" / "one.stl"
    same.parent.mkdir()
    for path, text in ((one, "a"), (two, "a"), (same, "a")):
        path.write_text(text)
    assert source_of(one) == source_of(same) != source_of(two)
    before = source_of(one)
    one.write_text("b")
    assert source_of(one) != before
    assert source_of(tmp_path) is None
    assert source_of(tmp_path / "none.stl") is None


def test_a_gltf_stands_for_its_buffers(tmp_path: Path) -> None:
    """A changed buffer beside a glTF file changes its source; a file that cannot be parsed has none."""
    scene, buffer = tmp_path / "jug.gltf", tmp_path / "jug data.bin"
    scene.write_text(json.dumps({"buffers": [{"uri": "jug%20data.bin"}, {"uri": "data:;base64,AA=="}]}))
    buffer.write_bytes(b"1")
    before = source_of(scene)
    assert before is not None
    buffer.write_bytes(b"2")
    assert source_of(scene) not in (None, before)
    scene.write_text("{")
    assert source_of(scene) is None
