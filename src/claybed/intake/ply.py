"""PLY, binary and as text: the header is weighed against the file before the body is read."""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
import trimesh

from claybed.errors import InputError
from claybed.intake.guard import LONGEST_LINE, Sniffed, lines_within, read_bytes
from claybed.intake.soup import Soup, triangle_limit

_BYTES = {
    "char": 1,
    "uchar": 1,
    "int8": 1,
    "uint8": 1,
    "short": 2,
    "ushort": 2,
    "int16": 2,
    "uint16": 2,
    "int": 4,
    "uint": 4,
    "int32": 4,
    "uint32": 4,
    "float": 4,
    "float32": 4,
    "double": 8,
    "float64": 8,
}
_LONGEST_HEADER = 65_536


@dataclass(slots=True)
class _Element:
    name: str
    count: int
    stride: int = 0


def read_ply(file: Sniffed, most: int) -> Soup:
    """Read a PLY file once its header has been found to fit the file.

    Raises InputError for counts the file cannot hold, more than `most` faces, or a damaged header.
    """
    elements, text, body = _header(file)
    for element in elements:
        if element.name == "face":
            triangle_limit(element.count, most, file.where)
    # A text entry takes at least one digit and one separator for each value of its least form.
    least = sum(e.count * (2 if text else e.stride) for e in elements)
    if least > file.size - body + 1:
        promised = ", ".join(f"{e.count:,} {e.name}" for e in elements)
        raise InputError(
            f"promises {promised} entries but is only {file.size:,} bytes long.",
            where=file.where,
            remedy="Export or copy it again.",
        )
    data = read_bytes(file)
    if text:
        lines_within(data, LONGEST_LINE, file.where)
    mesh = trimesh.load(io.BytesIO(data), file_type="ply", process=False, skip_materials=True)
    if not isinstance(mesh, trimesh.Trimesh):
        raise InputError(
            "is a PLY file of points without faces.",
            where=file.where,
            remedy="Build a surface from the points first, then export that.",
        )
    return Soup(np.array(mesh.vertices, np.float64), np.array(mesh.faces, np.int64), "PLY")


def _header(file: Sniffed) -> tuple[list[_Element], bool, int]:
    """Elements with their least size in bytes, whether the body is text, and where it starts."""
    end = file.head.find(b"end_header", 0, _LONGEST_HEADER)
    if end < 0:
        raise _damaged(file, "its header has no end")
    elements: list[_Element] = []
    text: bool | None = None
    for line in file.head[:end].decode("latin-1").splitlines():
        words = line.split()
        if words[:1] == ["format"] and len(words) >= 2:
            text = words[1] == "ascii"
        elif words[:1] == ["element"]:
            if len(words) != 3 or not words[2].isdigit():
                raise _damaged(file, f"the line '{line[:60]}' makes no sense")
            elements.append(_Element(words[1], int(words[2])))
        elif words[:1] == ["property"] and elements:
            # A list counts by its length field alone: that is the least it can take.
            kind = words[2] if words[1:2] == ["list"] else (words[1] if len(words) > 1 else "")
            if kind not in _BYTES:
                raise _damaged(file, f"the line '{line[:60]}' makes no sense")
            elements[-1].stride += _BYTES[kind]
    if text is None or not elements:
        raise _damaged(file, "its header is incomplete")
    return elements, text, end + len("end_header\n")


def _damaged(file: Sniffed, why: str) -> InputError:
    return InputError(f"is a damaged PLY file: {why}.", where=file.where, remedy="Export or copy it again.")
