"""A mesh for the page, as bytes: a header that says what follows, then arrays that need no unpacking.

Layout: four bytes little-endian length of the header, the header as JSON padded with spaces to a multiple of
four, then for each array named in it, in order, its bytes padded to a multiple of four. Positions are 16-bit
steps in the box of the header (6 µm over 400 mm): to look at, never to make anything from.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Mapping
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.mesh import Mesh
from claybed.scene.wire import Box

_KINDS: Final = {"u1": np.uint8, "u2": np.uint16, "u4": np.uint32, "f4": np.float32}


def shape_bytes(mesh: Mesh) -> bytes:
    """A mesh as `points` u2 (n, 3), `faces` u4 (m, 3) and `origin` u1 (m,), in the box low + size."""
    box = Box.around([mesh])
    header = {"low": box.low_mm.tolist(), "size": box.size_mm}
    arrays: dict[str, NDArray[Any]] = {
        "points": box.steps(mesh.vertices_mm).astype(np.uint16),
        "faces": mesh.faces.astype(np.uint32),
        "origin": mesh.origin.astype(np.uint8),
    }
    return packed_bytes(header, arrays)


def packed_bytes(header: Mapping[str, Any], arrays: Mapping[str, NDArray[Any]]) -> bytes:
    """Header and arrays in the layout above; array kinds u1, u2, u4 and f4."""
    listed = []
    for name, array in arrays.items():
        kind = f"{array.dtype.kind}{array.dtype.itemsize}"
        if kind not in _KINDS:
            raise ValueError(f"array {name} of kind {array.dtype} has no place in a page")
        listed.append({"name": name, "kind": kind, "count": int(array.size)})
    text = json.dumps({**header, "arrays": listed}, separators=(",", ":"), allow_nan=False).encode()
    text += b" " * (-len(text) % 4)
    parts = [struct.pack("<I", len(text)), text]
    for array in arrays.values():
        data = np.ascontiguousarray(array).astype(array.dtype.newbyteorder("<")).tobytes()
        parts += [data, b"\0" * (-len(data) % 4)]
    return b"".join(parts)


def unpacked(data: bytes) -> tuple[dict[str, Any], dict[str, NDArray[Any]]]:
    """Header and flat arrays of `packed_bytes`."""
    (length,) = struct.unpack_from("<I", data)
    header = json.loads(data[4 : 4 + length])
    at, arrays = 4 + length, {}
    for entry in header.pop("arrays"):
        kind = np.dtype(_KINDS[entry["kind"]]).newbyteorder("<")
        arrays[entry["name"]] = np.frombuffer(data, kind, entry["count"], at)
        at += entry["count"] * kind.itemsize
        at += -at % 4
    return header, arrays
