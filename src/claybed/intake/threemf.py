"""3MF: a zip of XML, read in bounded bites; every placement is counted before it is made."""

from __future__ import annotations

import io
import posixpath
import zipfile
from array import array
from dataclasses import dataclass, field
from typing import IO
from xml.parsers import expat

import numpy as np

from claybed.errors import InputError
from claybed.intake.guard import Sniffed, read_bytes
from claybed.intake.soup import Points, Soup, Triples, triangle_limit

LARGEST_UNPACKED = 1_500_000_000
LARGEST_MODEL = 600_000_000
LARGEST_RATIO = 100
_RATIO_MATTERS_ABOVE = 10_000_000
_DEEPEST = 16
_MOST_PLACED = 10_000
_UNITS = {
    "micron": "um",
    "millimeter": "mm",
    "centimeter": "cm",
    "inch": "in",
    "foot": "ft",
    "meter": "m",
}
_MAIN_PART = "/3D/3dmodel.model"
Placement = tuple[str, str, Points]


@dataclass(slots=True)
class _Part:
    """One object of the file: its own mesh, or where other parts stand in it."""

    points: Points = field(default_factory=lambda: np.zeros((0, 3)))
    faces: Triples = field(default_factory=lambda: np.zeros((0, 3), np.int64))
    components: list[Placement] = field(default_factory=list)


@dataclass(slots=True)
class _Model:
    unit: str = "mm"
    parts: dict[tuple[str, str], _Part] = field(default_factory=dict)
    items: list[Placement] = field(default_factory=list)


class _Bounded:
    """A stream that refuses to give more than `most` bytes, whatever the zip's own table says."""

    def __init__(self, stream: IO[bytes], most: int, file: Sniffed) -> None:
        self._stream, self._left, self._file = stream, most, file

    def read(self, size: int) -> bytes:
        bite = self._stream.read(size)
        self._left -= len(bite)
        if self._left < 0:
            raise _too_large(self._file)
        return bite


def read_3mf(file: Sniffed, most: int) -> Soup:
    """Read all build items of a 3MF file with their placements; the unit is the file's own.

    Raises InputError for archives that unpack too large, parts nested without end, more than `most`
    triangles, or damaged XML.
    """
    data = io.BytesIO(read_bytes(file))
    try:
        with zipfile.ZipFile(data) as archive:
            model = _parse(archive, file, most)
    except (
        zipfile.BadZipFile,
        zipfile.LargeZipFile,
        NotImplementedError,
        EOFError,
        OSError,
        RuntimeError,
    ) as why:
        raise _damaged(file, "its archive cannot be unpacked") from why
    except (expat.ExpatError, ValueError, KeyError, OverflowError) as why:
        raise _damaged(file, "its XML cannot be read") from why
    return _assembled(model, file, most)


def _parse(archive: zipfile.ZipFile, file: Sniffed, most: int) -> _Model:
    infos = archive.infolist()
    for info in infos:
        ratio = info.file_size / max(info.compress_size, 1)
        if info.file_size > _RATIO_MATTERS_ABOVE and ratio > LARGEST_RATIO:
            raise _too_large(file)
    names = [i.filename for i in infos if i.filename.lower().endswith(".model")]
    if sum(i.file_size for i in infos) > LARGEST_UNPACKED or len(infos) > 10_000:
        raise _too_large(file)
    if not names:
        raise _damaged(file, "it holds no 3D model")
    model = _Model()
    left = LARGEST_MODEL
    triangles = 0
    for name in sorted(names):
        with archive.open(name) as stream:
            part_path = "/" + name.lstrip("/")
            triangles += _parse_model(_Bounded(stream, left, file), part_path, model, file, most - triangles)
        left -= archive.getinfo(name).file_size
    return model


def _parse_model(stream: _Bounded, path: str, model: _Model, file: Sniffed, most: int) -> int:
    """Read one .model part into `model`; returns how many triangles it held."""
    listener = _Listener(path, model, file, most)
    parser = expat.ParserCreate()
    parser.StartElementHandler = listener.start
    parser.EndElementHandler = listener.end
    # Without a document type there are no entities to expand, and 3MF allows none.
    parser.StartDoctypeDeclHandler = listener.refuse_doctype
    while bite := stream.read(1 << 20):
        parser.Parse(bite, False)
    parser.Parse(b"", True)
    return listener.count


class _Listener:
    """Collects one .model part while its XML goes by; nothing else of it is kept."""

    def __init__(self, path: str, model: _Model, file: Sniffed, most: int) -> None:
        self._path, self._model, self._file, self._most = path, model, file, most
        self._points, self._corners = array("d"), array("q")
        self._components: list[Placement] = []
        self._id = ""
        self.count = 0

    def start(self, name: str, values: dict[str, str]) -> None:
        tag = name.rpartition(":")[2]
        if tag == "vertex":
            self._points.extend((float(values["x"]), float(values["y"]), float(values["z"])))
        elif tag == "triangle":
            self._corners.extend((int(values["v1"]), int(values["v2"]), int(values["v3"])))
            self.count += 1
            if self.count > self._most:
                triangle_limit(self.count, self._most, self._file.where)
        elif tag == "object":
            self._id = values.get("id", "")
        elif tag == "component":
            self._components.append(_placement(values, self._path))
        elif tag == "item":
            self._model.items.append(_placement(values, self._path))
        elif tag == "model" and self._path == _MAIN_PART:
            unit = values.get("unit", "millimeter")
            if unit not in _UNITS:
                raise _damaged(self._file, f"it names the unit '{unit[:20]}'")
            self._model.unit = _UNITS[unit]

    def end(self, name: str) -> None:
        if name.rpartition(":")[2] != "object":
            return
        points = np.array(self._points, np.float64).reshape(-1, 3)
        faces = np.array(self._corners, np.int64).reshape(-1, 3)
        if len(faces) and (int(faces.min()) < 0 or int(faces.max()) >= len(points)):
            raise _damaged(
                self._file, f"a triangle names a point that is not among the {len(points):,} points"
            )
        self._model.parts[(self._path, self._id)] = _Part(points, faces, self._components)
        self._points, self._corners, self._components = array("d"), array("q"), []

    def refuse_doctype(self, *_: object) -> None:
        raise _damaged(self._file, "it carries a document type, which 3MF forbids")


def _placement(values: dict[str, str], path: str) -> Placement:
    other = next((v for k, v in values.items() if k.rpartition(":")[2] == "path"), path)
    text = values.get("transform")
    matrix = np.array(text.split(), np.float64).reshape(4, 3) if text else np.eye(4)[:, :3]
    return posixpath.normpath("/" + other.lstrip("/")), values.get("objectid", ""), matrix


def _assembled(model: _Model, file: Sniffed, most: int) -> Soup:
    waiting = [(item, np.eye(4), 1) for item in reversed(model.items)]
    points: list[Points] = []
    faces: list[Triples] = []
    visited = shift = total = 0
    while waiting:
        (path, number, matrix), outer, depth = waiting.pop()
        visited += 1
        if depth > _DEEPEST or visited > _MOST_PLACED:
            raise _damaged(file, "its parts are nested without end")
        part = model.parts.get((path, number))
        if part is None:
            raise _damaged(file, f"it places part '{number[:20]}', which it does not hold")
        here = np.column_stack([matrix, [0.0, 0.0, 0.0, 1.0]]) @ outer
        total += len(part.faces)
        triangle_limit(total, most, file.where)
        if len(part.faces):
            points.append(part.points @ here[:3, :3] + here[3, :3])
            mirrored = np.linalg.det(here[:3, :3]) < 0
            faces.append((part.faces[:, ::-1] if mirrored else part.faces) + shift)
            shift += len(part.points)
        waiting.extend((c, here, depth + 1) for c in reversed(part.components))
    if not faces:
        return Soup(np.zeros((0, 3)), np.zeros((0, 3), np.int64), "3MF", model.unit)
    return Soup(np.concatenate(points), np.concatenate(faces), "3MF", model.unit)


def _damaged(file: Sniffed, why: str) -> InputError:
    return InputError(f"is a damaged 3MF file: {why}.", where=file.where, remedy="Export or copy it again.")


def _too_large(file: Sniffed) -> InputError:
    return InputError(
        "is an archive that unpacks far beyond the size of a mesh.",
        where=file.where,
        remedy="Export it again.",
    )
