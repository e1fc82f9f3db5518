"""glTF and GLB: the table of contents is checked first; y up becomes z up."""

from __future__ import annotations

import base64
import binascii
import io
import json
import struct
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import numpy as np
import trimesh

from claybed.errors import InputError
from claybed.intake.guard import LARGEST_BYTES, Sniffed, read_bytes
from claybed.intake.soup import Points, Soup, triangle_limit
from claybed.records.finding import Finding

_COMPONENT_BYTES = {5120: 1, 5121: 1, 5122: 2, 5123: 2, 5125: 4, 5126: 4}
_WIDTH = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4, "MAT2": 4, "MAT3": 9, "MAT4": 16}
_DEEPEST = 64
_MOST_PLACED = 10_000
_JSON_CHUNK = 0x4E4F534A
_PACKED = ("KHR_draco_mesh_compression", "EXT_meshopt_compression")


def read_gltf(file: Sniffed, most: int) -> Soup:
    """Read every placed mesh of a GLB or glTF file, turned from y up to z up; metres.

    Raises InputError for counts the file cannot hold, more than `most` triangles once placed, rings of nodes,
    and compressed geometry.
    """
    data = read_bytes(file)
    tree = _tree(file, data)
    try:
        _check_extensions(tree, file)
        _check_sizes(tree, file)
        triangle_limit(_placed_triangles(tree, file), most, file.where)
        loose = _loose_buffers(tree, file) if file.kind == "gltf" else {}
    except (KeyError, TypeError, AttributeError, IndexError, ValueError) as reason:
        raise _damaged(file, "its table of contents is inconsistent") from reason
    scene = trimesh.load(
        io.BytesIO(data), file_type=file.kind, resolver=loose, process=False, skip_materials=True
    )
    vertices, faces = placed(scene)
    turned = np.column_stack([vertices[:, 0], -vertices[:, 2], vertices[:, 1]]) if len(vertices) else vertices
    says = "glTF files stand y up by their standard; the object was turned to stand z up."
    return Soup(turned, faces, "glTF", "m", (Finding("turned_upright", "note", "the whole object", says),))


def placed(scene: Any) -> tuple[Points, Any]:
    """All triangle meshes of a loaded scene with their placements applied: (n, 3) points and (m, 3) faces."""
    if isinstance(scene, trimesh.Trimesh):
        return np.array(scene.vertices, np.float64), np.array(scene.faces, np.int64)
    parts = [p for p in scene.dump() if isinstance(p, trimesh.Trimesh) and len(p.faces)]
    if not parts:
        return np.zeros((0, 3)), np.zeros((0, 3), np.int64)
    shifts = np.concatenate([[0], np.cumsum([len(p.vertices) for p in parts])])
    faces = np.concatenate([np.array(p.faces, np.int64) + s for p, s in zip(parts, shifts, strict=False)])
    return np.concatenate([np.array(p.vertices, np.float64) for p in parts]), faces


def _tree(file: Sniffed, data: bytes) -> dict[str, Any]:
    text = data
    if file.kind == "glb":
        if len(data) < 20:
            raise _damaged(file, "it is cut short")
        _, version, total, length, kind = struct.unpack_from("<5I", data, 0)
        if version != 2 or kind != _JSON_CHUNK or total > len(data) or 20 + length > len(data):
            raise _damaged(file, "it is cut short or its header does not fit")
        text = data[20 : 20 + length]
    try:
        tree = json.loads(text)
    except (ValueError, RecursionError) as reason:
        raise _damaged(file, "its table of contents cannot be read") from reason
    if not isinstance(tree, dict) or "asset" not in tree:
        raise _damaged(file, "it has no table of contents")
    return tree


def _check_extensions(tree: dict[str, Any], file: Sniffed) -> None:
    for name in _PACKED:
        if name in tree.get("extensionsRequired", []) or name in tree.get("extensionsUsed", []):
            raise InputError(
                f"holds compressed geometry ({name}).",
                where=file.where,
                remedy="Export it without compression.",
            )


def _check_sizes(tree: dict[str, Any], file: Sniffed) -> None:
    """Every view lies in its buffer and every accessor in its view."""
    buffers = [int(b["byteLength"]) for b in tree.get("buffers", [])]
    if sum(buffers) > LARGEST_BYTES or (file.kind == "glb" and buffers and buffers[0] > file.size):
        raise _damaged(file, f"it promises {sum(buffers):,} bytes of data and has {file.size:,}")
    views = tree.get("bufferViews", [])
    for view in views:
        if int(view.get("byteOffset", 0)) + int(view["byteLength"]) > buffers[view["buffer"]]:
            raise _damaged(file, "a part of its data lies beyond its end")
    for accessor in tree.get("accessors", []):
        count = int(accessor["count"])
        row = _COMPONENT_BYTES[accessor["componentType"]] * _WIDTH[accessor["type"]]
        if count < 0 or "bufferView" not in accessor:
            raise _damaged(file, "a list in it has no data")
        view = views[accessor["bufferView"]]
        stride = int(view.get("byteStride", row))
        needed = int(accessor.get("byteOffset", 0)) + (stride * (count - 1) + row if count else 0)
        if needed > int(view["byteLength"]):
            raise _damaged(file, f"a list promises {count:,} entries and has room for fewer")


def _placed_triangles(tree: dict[str, Any], file: Sniffed) -> int:
    """Triangles of all placed meshes together; refuses rings and forests of nodes."""
    accessors = tree.get("accessors", [])
    per_mesh = []
    for mesh in tree.get("meshes", []):
        count = 0
        for primitive in mesh["primitives"]:
            source = primitive["indices"] if "indices" in primitive else primitive["attributes"]["POSITION"]
            corners = int(accessors[source]["count"])
            count += corners // 3 if primitive.get("mode", 4) == 4 else max(corners - 2, 0)
        per_mesh.append(count)
    nodes = tree.get("nodes", [])
    scenes = tree.get("scenes", [])
    roots = scenes[tree.get("scene", 0)].get("nodes", []) if scenes else range(len(nodes))
    waiting = [(int(r), 1) for r in roots]
    total = visited = 0
    while waiting:
        index, depth = waiting.pop()
        visited += 1
        if depth > _DEEPEST or visited > _MOST_PLACED:
            raise _damaged(file, "its parts are nested without end")
        node = nodes[index]
        total += per_mesh[node["mesh"]] if "mesh" in node else 0
        waiting.extend((int(child), depth + 1) for child in node.get("children", []))
    return total


def _loose_buffers(tree: dict[str, Any], file: Sniffed) -> dict[str, bytes]:
    """The data files a .gltf names, which must lie beside it."""
    found: dict[str, bytes] = {}
    for buffer in tree.get("buffers", []):
        uri = str(buffer.get("uri", ""))
        if uri.startswith("data:"):
            try:
                base64.b64decode(uri.partition(",")[2], validate=True)
            except binascii.Error as reason:
                raise _damaged(file, "its embedded data cannot be decoded") from reason
            continue
        name = unquote(uri)
        path = file.path.parent / name
        if not name or Path(name).is_absolute() or ".." in Path(name).parts or not path.is_file():
            raise InputError(
                f"needs the file '{name[:80]}' beside it.",
                where=file.where,
                remedy="Copy that file too, or export as GLB, which holds everything.",
            )
        if path.stat().st_size > LARGEST_BYTES or path.stat().st_size < int(buffer["byteLength"]):
            raise _damaged(file, f"'{name[:80]}' is not as long as promised")
        found[uri] = path.read_bytes()
    return found


def _damaged(file: Sniffed, why: str) -> InputError:
    return InputError(f"is a damaged glTF file: {why}.", where=file.where, remedy="Export or copy it again.")
