"""What a file is, judged by its first bytes, and whether it may be read at all."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np

from claybed.errors import InputError
from claybed.records.object_file import DESCRIPTION, SUFFIX

Kind = Literal["stl", "stl_ascii", "obj", "ply", "glb", "gltf", "3mf", "step", "claybed"]

# Parsers hold about five times a text file in memory, and the reading worker has 3 GB.
LARGEST_BYTES = 600_000_000
LONGEST_LINE = 1_000_000
LONGEST_STL_LINE = 4_096
STL_HEAD = 84
STL_ROW = 50
_READ_HERE = "an STL, OBJ, PLY, GLB, 3MF, STEP or object file"

_FOREIGN = (
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF8", "a GIF picture"),
    (b"%PDF", "a PDF document"),
    (b"<!DOC", "a web page"),
    (b"<html", "a web page"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"7z\xbc\xaf", "a 7z archive"),
    (b"Rar!", "a RAR archive"),
)


@dataclass(frozen=True, slots=True)
class Sniffed:
    """A readable file: `kind` by content, `size` in bytes, `head` its first 64 kB.

    `inner` holds all of it when it was unpacked from another file.
    """

    path: Path
    kind: Kind
    size: int
    head: bytes
    inner: bytes | None = None

    @property
    def where(self) -> str:
        """The name used in messages."""
        return self.path.name


def sniff(path: Path) -> Sniffed:
    """Look at the first bytes of `path` and say which format it is.

    Raises InputError for a missing or unreadable file, a directory, an empty file, and content that is no
    format read here, whatever its suffix says.
    """
    where = path.name or str(path)
    try:
        if path.is_dir():
            raise InputError("is a folder, not a file.", where=where, remedy="Name the mesh file in it.")
        if not path.is_file():
            raise InputError("there is no such file.", where=where, remedy="Check the path.")
        size = path.stat().st_size
        with path.open("rb") as stream:
            head = stream.read(65_536)
    except (OSError, ValueError) as reason:
        raise InputError(
            "cannot be opened.", where=where, remedy="Check the path and permissions."
        ) from reason
    if size == 0:
        raise InputError("is empty (0 bytes).", where=where, remedy="Export or copy it again.")
    return Sniffed(path, _kind(head, size, path.suffix.lower(), where), size, head)


def read_bytes(file: Sniffed) -> bytes:
    """The whole file, once its size is within `LARGEST_BYTES`. Raises InputError."""
    if file.size > LARGEST_BYTES:
        raise InputError(
            f"is {file.size / 1e6:,.0f} MB, more than the {LARGEST_BYTES / 1e6:,.0f} MB read here.",
            where=file.where,
            remedy="Export it coarser, or as binary STL.",
        )
    if file.inner is not None:
        return file.inner
    try:
        return file.path.read_bytes()
    except OSError as reason:
        raise InputError("cannot be read to its end.", where=file.where, remedy="Copy it again.") from reason


def lines_within(data: bytes, longest: int, where: str) -> None:
    """Refuse text with a line longer than `longest` bytes. Raises InputError."""
    ends = np.flatnonzero(np.frombuffer(data, np.uint8) == 10)
    if len(ends) == 0 and b"\r" in data:
        ends = np.flatnonzero(np.frombuffer(data, np.uint8) == 13)
    gaps = np.diff(np.concatenate([[-1], ends, [len(data)]]))
    if int(gaps.max()) > longest:
        raise InputError(
            f"has a line of {int(gaps.max()):,} characters; that is no mesh text.",
            where=where,
            remedy="Export it again, best as a binary file.",
        )


def stl_count(head: bytes) -> int:
    """The number of triangles a binary STL header states."""
    return int(struct.unpack_from("<I", head, 80)[0])


def _kind(head: bytes, size: int, suffix: str, where: str) -> Kind:
    for magic, name in _FOREIGN:
        if head.startswith(magic):
            raise InputError(
                f"is {name}, not a mesh.",
                where=where,
                remedy=f"Give {_READ_HERE}.",
            )
    text = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    if head.startswith(b"PK\x03\x04"):
        first = head[30 : 30 + len(DESCRIPTION)]
        return "claybed" if suffix == SUFFIX or first == DESCRIPTION.encode() else "3mf"
    if head.startswith(b"glTF"):
        return "glb"
    if head[:4] in (b"ply\n", b"ply\r"):
        return "ply"
    if b"ISO-10303-21" in head[:1024]:
        return "step"
    if text.startswith(b"{") and suffix in ("", ".gltf", ".json"):
        return "gltf"
    wordy = text[:5].lower() == b"solid" and b"\0" not in head[80:2048]
    if size >= STL_HEAD and size == STL_HEAD + STL_ROW * stl_count(head):
        return "stl"
    if wordy and (suffix == ".stl" or b"facet" in head.lower()):
        return "stl_ascii"
    if suffix == ".obj" or (b"\0" not in head and (text.startswith(b"v ") or b"\nv " in head)):
        return "obj"
    if suffix == ".stl":
        return _binary_stl(head, size, where)
    raise InputError(
        "is none of the formats read here.",
        where=where,
        remedy=f"Give {_READ_HERE}.",
    )


def _binary_stl(head: bytes, size: int, where: str) -> Kind:
    if size < STL_HEAD:
        raise InputError(
            f"is not an STL file, whatever its name says: {size} bytes are too few for even one triangle.",
            where=where,
            remedy=f"Give {_READ_HERE}, or export it again.",
        )
    if b"\0" not in head and head.isascii():
        raise InputError(
            "is not an STL file, whatever its name says: it holds text that is no mesh.",
            where=where,
            remedy=f"Give {_READ_HERE}, or export it again.",
        )
    needed = STL_HEAD + STL_ROW * stl_count(head)
    if needed > size:
        raise InputError(
            f"promises {stl_count(head):,} triangles ({needed:,} bytes) but ends after {size:,} bytes.",
            where=where,
            remedy="Export or copy it again.",
        )
    return "stl"
