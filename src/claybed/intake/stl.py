"""STL, binary and as text."""

from __future__ import annotations

import re

import numpy as np

from claybed.errors import InputError
from claybed.intake.guard import LONGEST_STL_LINE, STL_HEAD, Sniffed, lines_within, read_bytes, stl_count
from claybed.intake.soup import Points, Soup, triangle_limit
from claybed.records.finding import Finding
from claybed.units import say_count

_ROW = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
_VERTEX = re.compile(rb"^[ \t]*vertex[ \t]+([^\r\n]*)", re.MULTILINE | re.IGNORECASE)
_END_FACET = re.compile(rb"^[ \t]*end[ \t]*facet", re.MULTILINE | re.IGNORECASE)
_END_SOLID = re.compile(rb"^[ \t]*end[ \t]*solid", re.MULTILINE | re.IGNORECASE)


def read_binary(file: Sniffed, most: int) -> Soup:
    """Read a binary STL; the header's count is judged before anything else. Bytes after the last row are
    ignored.

    Raises InputError when it holds more than `most` triangles or none.
    """
    count = stl_count(file.head)
    triangle_limit(count, most, file.where)
    with file.path.open("rb") as stream:
        stream.seek(STL_HEAD)
        rows = np.fromfile(stream, dtype=_ROW, count=count)
    if len(rows) != count:
        raise InputError("changed while it was read.", where=file.where, remedy="Try again.")
    spare = file.size - STL_HEAD - _ROW.itemsize * count
    findings: tuple[Finding, ...] = ()
    if spare:
        says = f"The STL file goes on for {say_count(spare, 'byte')} after its last triangle; left out."
        findings = (Finding("stl_trailing_bytes", "note", "the file", says),)
    return _soup(rows["corners"].reshape(-1, 3).astype(np.float64), "binary STL", findings)


def read_ascii(file: Sniffed, most: int) -> Soup:
    """Read an STL written as text, in any single-byte encoding.

    Raises InputError for overlong lines, facets that are not triangles, or an end that is missing.
    """
    data = read_bytes(file)
    lines_within(data, LONGEST_STL_LINE, file.where)
    if b"\n" not in data:
        data = data.replace(b"\r", b"\n")
    rows = _VERTEX.findall(data)
    triangle_limit(len(rows) // 3, most, file.where)
    facets = sum(1 for _ in _END_FACET.finditer(data))
    if not rows or len(rows) != 3 * facets or not _END_SOLID.search(data):
        raise InputError(
            f"is an STL text with {len(rows):,} points in {facets:,} facets; it is damaged or cut short.",
            where=file.where,
            remedy="Export or copy it again.",
        )
    return _soup(numbers(rows, 3, file.where), "text STL", ())


def numbers(rows: list[bytes], width: int, where: str) -> Points:
    """Rows of `width` numbers each, written as text, as (n, width) float64. Raises InputError for anything
    else.
    """
    try:
        table = np.loadtxt(rows, dtype=np.float64, comments=None, ndmin=2)
    except ValueError as reason:
        raise InputError(
            "has a line with something other than the numbers of one point.",
            where=where,
            remedy="Export it again.",
        ) from reason
    if table.shape[1] != width:
        raise InputError(
            f"has lines of {table.shape[1]} numbers where {width} belong.",
            where=where,
            remedy="Export it again.",
        )
    return table


def _soup(corners: Points, name: str, findings: tuple[Finding, ...]) -> Soup:
    faces = np.arange(len(corners), dtype=np.int64).reshape(-1, 3)
    return Soup(corners, faces, name, findings=findings)
