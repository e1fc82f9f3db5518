"""Each format read to the same tumbler, with units, placements and oddities."""

from __future__ import annotations

import importlib.util
import json
import struct
import zipfile
from pathlib import Path

import numpy as np
import pytest
import trimesh
from intake_shapes import (
    TUMBLER,
    Arrays,
    box,
    lumpy,
    model_xml,
    read,
    revolved,
    together,
    volume_ml,
    write_3mf,
    write_obj,
    write_stl,
)

from claybed.errors import InputError

CUP = revolved(TUMBLER, 48)
CUP_ML = volume_ml(CUP)


def _text_stl(arrays: Arrays, name: str = "cup") -> bytes:
    lines = [f"solid {name}"]
    for corners in arrays[0][arrays[1]]:
        lines += ["  facet normal 0 0 0", "    outer loop"]
        lines += [f"      vertex {x:.9e} {y:.9e} {z:.9e}" for x, y, z in corners]
        lines += ["    endloop", "  endfacet"]
    return "\n".join([*lines, f"endsolid {name}", ""]).encode("latin-1")


def _as_trimesh(arrays: Arrays) -> trimesh.Trimesh:
    return trimesh.Trimesh(arrays[0], arrays[1], process=False)


@pytest.mark.parametrize("suffix", ["stl", "obj", "ply", "3mf"])
def test_formats_agree(suffix: str, tmp_path: Path) -> None:
    """The same tumbler written by another program must come in with its volume and size in every format."""
    path = tmp_path / f"cup.{suffix}"
    _as_trimesh(CUP).export(path)
    found = read(path)
    assert found.name == "cup"
    assert found.solid_ml == pytest.approx(CUP_ML, rel=1e-5)
    assert found.extent_mm == pytest.approx((76.0, 76.0, 100.0), abs=1e-4)
    assert found.repairs == ()


def test_text_ply(tmp_path: Path) -> None:
    """A PLY written as text must read like the binary one."""
    path = tmp_path / "cup.ply"
    path.write_bytes(trimesh.exchange.ply.export_ply(_as_trimesh(CUP), encoding="ascii"))
    assert read(path).solid_ml == pytest.approx(CUP_ML, rel=1e-5)


@pytest.mark.parametrize("name", ["cup", "Krüglein é", "vertex 1 2 3"])
def test_text_stl_of_any_name(name: str, tmp_path: Path) -> None:
    """A text STL must be read whatever its first line says, Latin-1 letters included."""
    path = tmp_path / "cup.stl"
    path.write_bytes(_text_stl(CUP, name))
    assert read(path).solid_ml == pytest.approx(CUP_ML, rel=1e-7)


def test_binary_stl_that_says_solid(tmp_path: Path) -> None:
    """A binary STL whose header begins with "solid" must be read as the binary file it is."""
    path = write_stl(tmp_path / "cup.stl", CUP, header=b"solid of revolution")
    assert read(path).solid_ml == pytest.approx(CUP_ML, rel=1e-5)


def test_content_beats_suffix(tmp_path: Path) -> None:
    """A file must be read by what it is, not by what it is called."""
    path = write_stl(tmp_path / "cup.obj", CUP)
    assert read(path).solid_ml == pytest.approx(CUP_ML, rel=1e-5)


def test_trailing_bytes_are_told(tmp_path: Path) -> None:
    """Bytes behind the last triangle of an STL must be ignored and told."""
    path = write_stl(tmp_path / "cup.stl", CUP)
    path.write_bytes(path.read_bytes() + b"x" * 123)
    found = read(path)
    assert found.solid_ml == pytest.approx(CUP_ML, rel=1e-5)
    assert [f.id for f in found.findings] == ["stl_trailing_bytes", "hollow_ware"]
    assert "123 bytes" in found.findings[0].says


def test_obj_polygons_colours_and_counts_from_the_end(tmp_path: Path) -> None:
    """Quads, concave polygons, textures, colours and negative indices must give the L it is."""
    outline = [(0, 0), (40, 0), (40, 20), (20, 20), (20, 40), (0, 40)]
    lines = [f"v {x} {y} {z} 0.5 0.5 0.5" for z in (0, 30) for x, y in outline]
    lines += ["vn 0 0 1", "vt 0 0", "f 12/1/1 11/1/1 10/1/1 9/1/1 8/1/1 7/1/1"]
    lines[-1] = "f " + " ".join(f"{k}/1/1" for k in range(7, 13))
    lines += ["f -7 -8 -9 -10 -11 -12"]
    lines += [f"f {k + 1}//1 {n + 1}//1 {n + 7}//1 \\\n {k + 7}//1" for k in range(6) for n in [(k + 1) % 6]]
    path = tmp_path / "ell.obj"
    path.write_text("\n".join(["# an L", "mtllib none.mtl", *lines]) + "\n", "ascii")
    found = read(path)
    assert found.solid_ml == pytest.approx((40 * 20 + 20 * 20) * 30 / 1000, rel=1e-12)
    assert found.repairs == ()


def test_dart_quads_are_split_inside(tmp_path: Path) -> None:
    """A quad with an inward corner must be split along the diagonal that lies inside it."""
    outline = [(0, 0), (40, 10), (0, 20), (10, 10)]
    lines = [f"v {x} {y} {z}" for z in (0, 30) for x, y in outline]
    lines += ["f 5 6 7 8", "f 4 3 2 1"]
    lines += [f"f {k + 1} {n + 1} {n + 5} {k + 5}" for k in range(4) for n in [(k + 1) % 4]]
    path = tmp_path / "dart.obj"
    path.write_text("\n".join(lines) + "\n", "ascii")
    assert read(path).solid_ml == pytest.approx((400 - 100) * 30 / 1000, rel=1e-12)


@pytest.mark.parametrize("suffix", ["glb", "gltf"])
def test_gltf_scene_is_placed_and_turned_upright(suffix: str, tmp_path: Path) -> None:
    """Placed parts must be united where they stand, in metres, and y up must become z up, said so."""
    scene = trimesh.Scene()
    part = _as_trimesh(box((0.04, 0.1, 0.02)))
    scene.add_geometry(part, transform=trimesh.transformations.translation_matrix([0.3, 0, 0]))
    mirror = np.diag([1.0, 1.0, -1.0, 1.0])
    mirror[:3, 3] = [0.32, 0, 0.01]
    scene.add_geometry(part, transform=mirror)
    path = tmp_path / f"parts.{suffix}"
    made = scene.export(file_type=suffix)
    if isinstance(made, dict):
        for name, data in made.items():
            (tmp_path / name).write_bytes(data)
        path = tmp_path / "model.gltf"
    else:
        path.write_bytes(made)
    found = read(path, unit=None)
    assert found.unit.how == "file" and found.unit.unit == "m"
    assert found.extent_mm == pytest.approx((60.0, 30.0, 100.0), rel=1e-5)
    assert found.solid_ml == pytest.approx(0.1 * (40 * 20 * 2 - 20 * 10), rel=1e-5)
    assert "turned_upright" in [f.id for f in found.findings]


def test_gltf_in_millimetres_by_mistake(tmp_path: Path) -> None:
    """A glTF whose metres would make a giant must be taken by its size, and the sentence say so."""
    path = tmp_path / "cup.glb"
    _as_trimesh(CUP).export(path)
    found = read(path, unit=None)
    assert found.unit.unit == "mm" and found.unit.how == "inferred"
    assert "although glTF should be in metres" in found.unit.says


def test_gltf_needs_its_data_file(tmp_path: Path) -> None:
    """A .gltf without the file that holds its data must name that file."""
    tree = {"asset": {"version": "2.0"}, "buffers": [{"byteLength": 4, "uri": "cup.bin"}]}
    path = tmp_path / "cup.gltf"
    path.write_text(json.dumps(tree), "ascii")
    with pytest.raises(InputError, match=r"needs the file 'cup\.bin'"):
        read(path)


def test_compressed_gltf_is_refused(tmp_path: Path) -> None:
    """Compressed geometry must be refused with the way out."""
    tree = json.dumps(
        {"asset": {"version": "2.0"}, "extensionsRequired": ["KHR_draco_mesh_compression"]}
    ).encode()
    tree += b" " * (-len(tree) % 4)
    head = struct.pack("<III", 0x46546C67, 2, 20 + len(tree)) + struct.pack("<II", len(tree), 0x4E4F534A)
    path = tmp_path / "cup.glb"
    path.write_bytes(head + tree)
    with pytest.raises(InputError, match="compressed geometry"):
        read(path)


@pytest.mark.parametrize(
    ("unit", "mm"), [("centimeter", 10.0), ("inch", 25.4), ("micron", 0.001), ("foot", 304.8)]
)
def test_3mf_unit(unit: str, mm: float, tmp_path: Path) -> None:
    """The unit a 3MF file states must be used and named as the file's."""
    path = write_3mf(tmp_path / "cup.3mf", model_xml((CUP[0] / mm, CUP[1]), unit))
    found = read(path, unit=None)
    assert found.unit.how == "file" and found.unit.mm_per_unit == pytest.approx(mm)
    assert found.solid_ml == pytest.approx(CUP_ML, rel=1e-9)


def test_3mf_components_in_other_parts_of_the_archive(tmp_path: Path) -> None:
    """Components placed by transforms, mirrored, or kept in another part must stand where they should."""
    build = (
        '<object id="2"><components>'
        '<component objectid="1"/>'
        '<component objectid="1" transform="-1 0 0 0 1 0 0 0 1 10 0 0"/>'
        '<component p:path="/3D/other.model" objectid="7" transform="1 0 0 0 1 0 0 0 1 0 30 0"/>'
        "</components></object></resources>"
        '<build><item objectid="2" transform="2 0 0 0 2 0 0 0 2 5 5 5"/></build>'
    )
    xml = model_xml(box((20, 40, 10)), rest=build).replace("<model ", '<model xmlns:p="http://p" ')
    path = tmp_path / "parts.3mf"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("3D/3dmodel.model", xml)
        archive.writestr(
            "3D/other.model", model_xml(box((20, 40, 10)), number=7, rest="</resources><build/>")
        )
    found = read(path, unit=None)
    # 20 x 40 and its mirror over x = -10..10 give 30 x 40; the third adds 20 x 30 above y = 40.
    assert found.solid_ml == pytest.approx(8 * (30 * 40 + 20 * 30) * 10 / 1000, rel=1e-9)
    assert found.mesh.bounds_mm[0] == pytest.approx((-15.0, 5.0, 5.0))


def test_3mf_that_unpacks_beyond_its_table(tmp_path: Path) -> None:
    """A zip that understates its size must not be read past what it stated."""
    path = write_3mf(tmp_path / "cup.3mf", model_xml(CUP))
    data = bytearray(path.read_bytes())
    at = data.rfind(b"PK\x01\x02")
    struct.pack_into("<I", data, at + 24, 1000)
    path.write_bytes(bytes(data))
    with pytest.raises(InputError, match="damaged 3MF"):
        read(path)


@pytest.mark.skipif(importlib.util.find_spec("cascadio") is not None, reason="the STEP library is installed")
def test_step_without_its_library(tmp_path: Path) -> None:
    """Without the optional library a STEP file must name what to install."""
    path = tmp_path / "cup.step"
    path.write_text("ISO-10303-21;\nHEADER;\nENDSEC;\nEND-ISO-10303-21;\n", "ascii")
    with pytest.raises(InputError, match=r"pip install '\.\[cad\]'"):
        read(path)


def test_limit_counts_placed_triangles(tmp_path: Path) -> None:
    """The limit must count what is placed, in every format, before anything is built."""
    stl = write_stl(tmp_path / "cup.stl", CUP)
    obj = write_obj(tmp_path / "cup.obj", CUP)
    items = '<item objectid="1"/>' * 3
    mf = write_3mf(tmp_path / "cup.3mf", model_xml(CUP, rest=f"</resources><build>{items}</build>"))
    glb = tmp_path / "cup.glb"
    _as_trimesh(CUP).export(glb)
    ply = tmp_path / "cup.ply"
    _as_trimesh(CUP).export(ply)
    text = tmp_path / "text.stl"
    text.write_bytes(_text_stl(CUP))
    for path in (stl, obj, glb, ply, text):
        with pytest.raises(InputError, match="more than the limit"):
            read(path, max_triangles=len(CUP[1]) - 1)
        assert read(path, unit=None, height_mm=100.0, max_triangles=len(CUP[1])).solid_ml > 0
    with pytest.raises(InputError, match="more than the limit"):
        read(mf, max_triangles=len(CUP[1]) * 3 - 1)


def test_several_solids_in_one_file_stay_apart(tmp_path: Path) -> None:
    """Two solids in one STL must count as two bodies."""
    path = write_stl(tmp_path / "two.stl", together(CUP, (CUP[0] + [200, 0, 0], CUP[1])))
    with pytest.raises(InputError, match="2 separate bodies"):
        read(path)


def test_fine_mesh_comes_in_as_it_is(tmp_path: Path) -> None:
    """A clean STL of 235 000 triangles must keep every one and be told as needing no repair."""
    stone = lumpy(140)
    found = read(write_stl(tmp_path / "fine.stl", stone))
    assert len(found.mesh.faces) == len(stone[1]) == 235_200
    assert found.repairs == ()
