"""An object file is read like any mesh, keeps what is known of its volume, and does no harm when damaged."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from intake_shapes import BOTTLE, TUMBLER, revolved

from claybed.actions.object_files import object_bytes, write_object
from claybed.errors import CannotError, InputError
from claybed.flow.ledger import numbers_at
from claybed.flow.object_document import object_document
from claybed.geometry.mesh import Mesh
from claybed.intake.object_file import MOST_ENTRIES, read_description
from claybed.intake.reading import read_object
from claybed.records.brief import Brief
from claybed.records.finding import Amount, Finding
from claybed.records.measured import Repair
from claybed.records.measuring import Measuring, VolumeBand
from claybed.records.object_file import DESCRIPTION, MESH, ObjectFile

CUP = Mesh.make(*revolved(TUMBLER, 48), frame="object")
HULL = Measuring("hull", "Hull of twelve outlines.", VolumeBand(0.06, 0.004))
FINDING = Finding("hollow_unseen", "look", "the foot", "A hollow is unseen.", "Look.", Amount(2.0, "mm"))


def an_object(mesh: Mesh | None = CUP, how: Measuring = HULL, **more: Any) -> ObjectFile:
    """Return an object as a way of measuring would hand it on."""
    fields: dict[str, Any] = {
        "name": "cup", "measuring": how, "mesh": mesh, "volume_ml": CUP.volume_mm3 / 1000.0,
        "mass_g": 210.5, "steps": (Repair("turned", 3, 0.0, "mm", "Turned three readings."),),
        "findings": (FINDING,),
    }  # fmt: skip
    return ObjectFile(**fields | more)


def written(folder: Path, obj: ObjectFile, name: str = "cup.claybed") -> Path:
    """Write it into `folder` and return where."""
    write_object(obj, folder / name)
    return folder / name


def read(path: Path, **asked: Any) -> Any:
    """Read it as a plan would."""
    return read_object(path, Brief(**asked), progress=lambda step, part: None)


def test_read_back_to_the_last_digit(tmp_path: Path) -> None:
    """Mesh, band, mass, findings and manner of measuring come back as they were written."""
    found = read(written(tmp_path, an_object()))
    assert np.array_equal(found.mesh.vertices_mm, CUP.vertices_mm)
    assert np.array_equal(found.mesh.faces, CUP.faces)
    assert found.band == HULL.band
    assert found.volume_rel_95 == 0.06
    assert (found.mass_g, found.measuring, found.findings[0]) == (210.5, HULL, FINDING)
    assert [finding.id for finding in found.findings[1:]] == ["hollow_ware"]
    assert found.unit.unit == "mm"
    assert found.repairs == ()


def test_what_is_asked_outweighs_the_file(tmp_path: Path) -> None:
    """A mass that was typed replaces the file's, and the mouth's band is used once the mouth is closed."""
    how = Measuring("calipers", "Readings.", VolumeBand(0.2, 0.2), VolumeBand(0.01, 0.02))
    vessel = Mesh.make(*revolved(BOTTLE, 48), frame="object")
    path = written(tmp_path, an_object(vessel, how))
    assert read(path, mass_g=99.0).mass_g == 99.0
    assert read(path).band == VolumeBand(0.2, 0.2)
    assert read(path, mouth=True).band == VolumeBand(0.01, 0.02)


def test_known_by_its_first_bytes(tmp_path: Path) -> None:
    """A file under another name is still taken for what it is, and a 3MF archive is not taken for one."""
    assert read(written(tmp_path, an_object(), "cup.zip")).measuring == HULL


def test_without_a_shape_it_is_refused_with_the_reason(tmp_path: Path) -> None:
    """Volume and weight alone make no mold: reading for a plan is refused, the description is not."""
    how = Measuring("displaced", "Weighed in water.", VolumeBand(0.02, 0.02))
    path = written(tmp_path, an_object(None, how))
    with pytest.raises(CannotError, match=r"holds no shape.*claybed mix"):
        read(path)
    told = read_description(path)
    assert (told.volume_ml, told.mass_g, told.mesh) == (CUP.volume_mm3 / 1000.0, 210.5, False)


def test_every_number_has_its_working() -> None:
    """Each number of the description has formula and source, and the volume its bounds."""
    document = object_document(an_object(extent_mm=(76.0, 76.0, 100.0)))
    figures = document.pop("figures")
    assert set(numbers_at(document)) == set(figures)
    volume = figures["/volume_ml"]
    assert volume["low"] == pytest.approx(0.94 * document["volume_ml"], rel=1e-12)
    assert volume["high"] == pytest.approx(1.004 * document["volume_ml"], rel=1e-12)


def test_the_same_object_gives_the_same_bytes() -> None:
    """Nothing of the moment of writing is in the file."""
    obj = an_object()
    assert object_bytes(obj, object_document(obj)) == object_bytes(obj, object_document(obj))


def archive(entries: dict[str, bytes]) -> bytes:
    """Return an archive with these entries, the description first."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for name, data in entries.items():
            made.writestr(name, data)
    return out.getvalue()


def changed(change: Callable[[dict[str, Any]], object]) -> dict[str, bytes]:
    """Return the entries of a good file with its description changed."""
    obj = an_object()
    with zipfile.ZipFile(io.BytesIO(object_bytes(obj, object_document(obj)))) as good:
        tree = json.loads(good.read(DESCRIPTION))
        change(tree)
        return {DESCRIPTION: json.dumps(tree).encode(), MESH: good.read(MESH)}


def _set(tree: dict[str, Any], key: str, value: object) -> None:
    *way, last = key.split("/")
    for step in way:
        tree = tree[step]
    tree[last] = value


GREEDY = b"ply\nformat binary_little_endian 1.0\nelement vertex 4000000000\nproperty double x\nend_header\n"
DAMAGE: dict[str, dict[str, bytes]] = {
    "no_mesh": {DESCRIPTION: changed(lambda tree: None)[DESCRIPTION]},
    "mesh_is_text": changed(lambda tree: None) | {MESH: b"hello"},
    "mesh_promises": changed(lambda tree: None) | {MESH: GREEDY},
    "no_json": {DESCRIPTION: b"{", MESH: b""},
    "deep_json": {DESCRIPTION: b"[" * 100_000, MESH: b""},
    "not_text": {DESCRIPTION: b"\xff\xfe\x00", MESH: b""},
    "a_list": {DESCRIPTION: b"[1]", MESH: b""},
    "nan": {DESCRIPTION: b'{"volume_ml": NaN}', MESH: b""},
    "other_schema": changed(lambda tree: _set(tree, "schema", "claybed-object-9")),
    "no_measured": changed(lambda tree: _set(tree, "measured", 3)),
    "odd_kind": changed(lambda tree: _set(tree, "measured/kind", "guess")),
    "no_band": changed(lambda tree: _set(tree, "measured/band", None)),
    "band_negative": changed(lambda tree: _set(tree, "measured/band/smaller_share", -0.1)),
    "band_whole": changed(lambda tree: _set(tree, "measured/band/smaller_share", 1.0)),
    "band_text": changed(lambda tree: _set(tree, "measured/band/larger_share", "0.1")),
    "volume_nothing": changed(lambda tree: _set(tree, "volume_ml", 0)),
    "mass_flag": changed(lambda tree: _set(tree, "mass_g", True)),
    "long_words": changed(lambda tree: _set(tree, "measured/says", "x" * 3000)),
    "odd_severity": changed(lambda tree: _set(tree, "findings", [{"severity": "loud"}])),
    "odd_place": changed(lambda tree: _set(tree["findings"][0], "at_mm", [1, 2])),
    "many_entries": changed(lambda tree: None) | {f"{k}.txt": b"" for k in range(MOST_ENTRIES)},
}


@pytest.mark.parametrize("name", DAMAGE)
def test_damage_ends_in_one_sentence(name: str, tmp_path: Path) -> None:
    """A damaged object file ends in an InputError of one line that names it and says what to do."""
    path = tmp_path / f"{name}.claybed"
    path.write_bytes(archive(DAMAGE[name]))
    with pytest.raises(InputError) as caught:
        read(path)
    assert path.name in str(caught.value)
    assert "\n" not in str(caught.value)
    assert caught.value.remedy


def test_cut_short(tmp_path: Path) -> None:
    """A file cut anywhere is refused, never half read."""
    obj = an_object()
    data = object_bytes(obj, object_document(obj))
    path = tmp_path / "cut.claybed"
    for keep in (40, len(data) // 3, len(data) - 30):
        path.write_bytes(data[:keep])
        with pytest.raises(InputError, match="damaged object file"):
            read(path)


@pytest.mark.parametrize("entry", [DESCRIPTION, MESH])
def test_a_bomb_is_refused_by_its_size(entry: str, tmp_path: Path) -> None:
    """An entry that unpacks far beyond its size is refused before it is unpacked."""
    path = tmp_path / "bomb.claybed"
    entries = changed(lambda tree: None)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as made:
        for name, data in entries.items():
            with made.open(name, "w") as out:
                out.write(data)
                for _ in range(60 if name == entry else 0):
                    out.write(b" " * 1_000_000)
    with pytest.raises(InputError, match="unpacks far beyond"):
        read(path)


@given(st.text(max_size=80))
def test_words_cannot_break_out_of_their_line(words: str) -> None:
    """Whatever stands in a sentence of the file, it is read as one printable line."""
    from claybed.intake.object_file import _printable

    assert _printable(words).isprintable()
    assert len(_printable(words)) == len(words)
