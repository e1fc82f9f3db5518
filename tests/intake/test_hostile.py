"""Files that lie, break off or swell: each ends in one sentence, soon, within 3 GB."""

from __future__ import annotations

import json
import os
import struct
import subprocess
import sys
import zipfile
from pathlib import Path

import numpy as np
import pytest
from intake_shapes import box, model_xml, write_3mf, write_obj, write_stl

from claybed.errors import InputError
from claybed.intake.guard import sniff

ROOT = Path(__file__).resolve().parents[2]
CUBE = box((40.0, 40.0, 40.0))
# Of the processor, not of the clock, so that it holds on a busy machine.
MOST_PROCESSOR_S = 20.0
MOST_FROM_HEADER_BYTES = 1_000_000

FROM_HEADER = {
    "stl_promises_4e9.stl",
    "stl_sparse_1e8.stl",
    "ply_promises_4e9.ply",
    "ply_text_promises_4e9.ply",
    "glb_accessor_4e9.glb",
    "zip_bomb.3mf",
}


def _glb(tree: dict[str, object], data: bytes = b"") -> bytes:
    text = json.dumps(tree).encode()
    text += b" " * (-len(text) % 4)
    chunks = struct.pack("<II", len(text), 0x4E4F534A) + text
    if data:
        chunks += struct.pack("<II", len(data), 0x004E4942) + data
    return struct.pack("<III", 0x46546C67, 2, 12 + len(chunks)) + chunks


def _tree(count: int, **more: object) -> dict[str, object]:
    return {
        "asset": {"version": "2.0"},
        "buffers": [{"byteLength": 36}],
        "bufferViews": [{"buffer": 0, "byteLength": 36}],
        "accessors": [{"bufferView": 0, "componentType": 5126, "count": count, "type": "VEC3"}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}}]}],
        "nodes": [{"mesh": 0}],
        "scenes": [{"nodes": [0]}],
        **more,
    }


def _nested_components(depth: int) -> str:
    objects = "".join(
        f'<object id="{k}"><components>' + f'<component objectid="{k - 1}"/>' * 10 + "</components></object>"
        for k in range(2, depth + 2)
    )
    return model_xml(CUBE, rest=f'{objects}</resources><build><item objectid="{depth + 1}"/></build>')


def _spoiled(value: float) -> tuple[np.ndarray, np.ndarray]:
    points = CUBE[0].copy()
    points[3] = value
    return points, CUBE[1]


def _build(folder: Path) -> None:
    good = write_stl(folder / "good.stl", CUBE).read_bytes()
    (folder / "good.stl").unlink()
    obj = write_obj(folder / "good.obj", CUBE).read_text("ascii")
    (folder / "good.obj").unlink()
    mf = write_3mf(folder / "good.3mf", model_xml(CUBE)).read_bytes()
    (folder / "good.3mf").unlink()
    whole = b"ply\nformat %s 1.0\nelement vertex %d\nproperty float x\nproperty float y\nproperty float z\n"
    whole += b"element face %d\nproperty list uchar int vertex_indices\nend_header\n"
    files: dict[str, bytes] = {
        "stl_truncated.stl": good[:-60],
        "stl_promises_4e9.stl": good[:80] + struct.pack("<I", 4_000_000_000) + good[84:],
        "stl_solid_4e9.stl": b"solid".ljust(80) + struct.pack("<I", 4_000_000_000) + good[84:],
        "stl_no_faces.stl": good[:80] + struct.pack("<I", 0),
        "zero_bytes.stl": b"",
        "three_bytes.stl": b"sol",
        "garbage.stl": np.random.default_rng(1).bytes(100_000),
        "picture.stl": b"\x89PNG\r\n\x1a\n" + good,
        "one_line.stl": b"solid x facet " + b"vertex 1 2 3 " * 3_850_000,
        "text_cut.stl": b"solid a\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\n",
        "text_words.stl": b"solid a\nfacet\nouter loop\nvertex a b c\nvertex 1 0 0\nvertex 0 1 0\n"
        b"endloop\nendfacet\nendsolid\n",
        "obj_index_out.obj": (obj + "f 1 2 99\n").encode(),
        "obj_index_zero.obj": (obj + "f 0 1 2\n").encode(),
        "obj_index_before.obj": (obj + "f -1 -2 -99\n").encode(),
        "obj_no_faces.obj": b"v 0 0 0\nv 1 0 0\n",
        "obj_words.obj": b"v 0 0 zero\nv 1 0 0\nv 0 1 0\nf 1 2 3\n",
        "obj_huge_index.obj": (obj + "f 1 2 99999999999999999999\n").encode(),
        "ply_promises_4e9.ply": whole % (b"binary_little_endian", 4_000_000_000, 12) + b"\0" * 100,
        "ply_text_promises_4e9.ply": whole % (b"ascii", 3, 4_000_000_000) + b"0 0 0\n" * 3,
        "ply_cut.ply": whole % (b"binary_little_endian", 8, 12) + b"\0" * 100,
        "ply_index_out.ply": whole % (b"ascii", 3, 1) + b"0 0 0\n1 0 0\n0 1 0\n3 0 1 9\n",
        "ply_no_end.ply": b"ply\nformat ascii 1.0\n" + b"comment x\n" * 20_000,
        "ply_odd_type.ply": b"ply\nformat ascii 1.0\nelement vertex 3\nproperty quaternion x\nend_header\n",
        "glb_accessor_4e9.glb": _glb(_tree(4_000_000_000), b"\0" * 36),
        "glb_no_view.glb": _glb(
            _tree(3, accessors=[{"componentType": 5126, "count": 3, "type": "VEC3"}]), b"\0" * 36
        ),
        "glb_ring.glb": _glb(_tree(3, nodes=[{"mesh": 0, "children": [0]}]), b"\0" * 36),
        "glb_cut.glb": _glb(_tree(3), b"\0" * 36)[:60],
        "glb_list.glb": _glb(_tree(3, meshes=[7]), b"\0" * 36),
        "outside.gltf": json.dumps(
            _tree(3, buffers=[{"byteLength": 36, "uri": "../../../etc/passwd"}])
        ).encode(),
        "3mf_cut.3mf": mf[: len(mf) // 2],
        "step_garbage.step": b"ISO-10303-21;\nHEADER;\n" + b"#1=NOTHING;\n" * 100,
        "notes.txt": b"buy plaster\n",
    }
    for name, data in files.items():
        (folder / name).write_bytes(data)
    for name, value in (("nan", np.nan), ("inf", np.inf), ("1e30", 1e30)):
        write_stl(folder / f"stl_{name}.stl", _spoiled(value))
        write_obj(folder / f"obj_{name}.obj", _spoiled(value))
    write_stl(folder / "stl_all_1e30.stl", (CUBE[0] * 1e30, CUBE[1]))
    write_stl(folder / "stl_point.stl", (CUBE[0] * 0.0, CUBE[1]))
    with (folder / "stl_sparse_1e8.stl").open("wb") as out:
        out.write(b"sparse".ljust(80) + struct.pack("<I", 100_000_000))
        out.truncate(84 + 50 * 100_000_000)
    write_3mf(folder / "nested.3mf", _nested_components(10))
    write_3mf(
        folder / "own_component.3mf",
        model_xml(
            CUBE,
            rest='<object id="2"><components><component objectid="2"/></components></object>'
            '</resources><build><item objectid="2"/></build>',
        ),
    )
    write_3mf(folder / "bad_index.3mf", model_xml((CUBE[0], CUBE[1] + 5)))
    laughs = "".join(f'<!ENTITY l{k} "{f"&l{k - 1};" * 10}">' for k in range(1, 12))
    write_3mf(
        folder / "laughs.3mf",
        f'<?xml version="1.0"?><!DOCTYPE m [<!ENTITY l0 "ha">{laughs}]><model>&l11;</model>',
    )
    with (
        zipfile.ZipFile(folder / "zip_bomb.3mf", "w", zipfile.ZIP_DEFLATED) as archive,
        archive.open("3D/3dmodel.model", "w", force_zip64=True) as out,
    ):
        out.write(b'<model unit="millimeter"><resources><object id="1"><mesh><vertices>')
        for _ in range(300):
            out.write(b'<vertex x="1" y="2" z="3"/>' * 40_000)
    with zipfile.ZipFile(folder / "no_model.3mf", "w") as archive:
        archive.writestr("readme.txt", "nothing here")
    (folder / "a_folder.stl").mkdir()


NAMES = [
    "3mf_cut.3mf",
    "a_folder.stl",
    "bad_index.3mf",
    "garbage.stl",
    "glb_accessor_4e9.glb",
    "glb_cut.glb",
    "glb_list.glb",
    "glb_no_view.glb",
    "glb_ring.glb",
    "laughs.3mf",
    "missing.stl",
    "nested.3mf",
    "no_model.3mf",
    "notes.txt",
    "obj_1e30.obj",
    "obj_huge_index.obj",
    "obj_index_before.obj",
    "obj_index_out.obj",
    "obj_index_zero.obj",
    "obj_inf.obj",
    "obj_nan.obj",
    "obj_no_faces.obj",
    "obj_words.obj",
    "one_line.stl",
    "outside.gltf",
    "own_component.3mf",
    "picture.stl",
    "ply_cut.ply",
    "ply_index_out.ply",
    "ply_no_end.ply",
    "ply_odd_type.ply",
    "ply_promises_4e9.ply",
    "ply_text_promises_4e9.ply",
    "step_garbage.step",
    "stl_1e30.stl",
    "stl_all_1e30.stl",
    "stl_inf.stl",
    "stl_nan.stl",
    "stl_no_faces.stl",
    "stl_point.stl",
    "stl_promises_4e9.stl",
    "stl_solid_4e9.stl",
    "stl_sparse_1e8.stl",
    "stl_truncated.stl",
    "text_cut.stl",
    "text_words.stl",
    "three_bytes.stl",
    "zero_bytes.stl",
    "zip_bomb.3mf",
]


@pytest.fixture(scope="module")
def endings(tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, object]]:
    """How each hostile file ended in a child process held to 3 GB."""
    folder = tmp_path_factory.mktemp("hostile")
    _build(folder)
    report = tmp_path_factory.mktemp("report") / "endings.jsonl"
    child = Path(__file__).with_name("hostile_child.py")
    env = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
    done = subprocess.run(
        [sys.executable, str(child), str(folder), str(report)],
        env=env,
        capture_output=True,
        text=True,
        timeout=500,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    rows = [json.loads(line) for line in report.read_text("utf-8").splitlines()]
    return {row["name"]: row for row in rows}


def test_every_hostile_file_is_named(endings: dict[str, dict[str, object]]) -> None:
    """The list of names and the files made must be the same, so that none goes unjudged."""
    assert sorted(endings) == sorted(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_ends_in_one_sentence(name: str, endings: dict[str, dict[str, object]]) -> None:
    """A hostile file must end in an InputError of one line that names it, before much work is done on it."""
    ending = endings[name]
    message = str(ending["message"])
    assert ending["outcome"] == "InputError", f"{ending['outcome']}: {message}"
    assert "\n" not in message
    assert name in message
    assert len(message) < 300
    assert float(str(ending["processor_s"])) < MOST_PROCESSOR_S
    if name in FROM_HEADER:
        assert int(str(ending["read_bytes"])) < MOST_FROM_HEADER_BYTES


def test_a_text_named_stl_is_told_to_be_none(tmp_path: Path) -> None:
    """What is far too short for one triangle is no STL, not a short one."""
    file = tmp_path / "notes.stl"
    file.write_text("buy plaster")
    with pytest.raises(InputError, match=r"is not an STL file.*11 bytes"):
        sniff(file)
