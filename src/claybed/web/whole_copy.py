"""The whole studio in one file: its register, and the files of its objects, plans and photos."""

from __future__ import annotations

import io
import json
import os
import tempfile
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from claybed import __version__
from claybed.register.copies import back_up
from claybed.register.opening import Register

FOLDERS: Final = ("objects", "plans", "photos")
REGISTER: Final = "register.sqlite"
FACTS: Final = "claybed-backup.json"
FORMAT: Final = 1
_CHUNK: Final = 1 << 20
# Work that is still being written has these endings; it is not the studio's yet.
_UNFINISHED: Final = (".part", ".lock")
_PACKED_ALREADY: Final = (".3mf", ".claybed", ".glb", ".jpg", ".jpeg", ".npz", ".pdf", ".png", ".zip")


@dataclass(frozen=True, slots=True)
class Kept:
    """A file of the studio: its `name` below the studio's folder, its `path`, and its `size` in bytes."""

    name: str
    path: Path
    size: int


def kept_files(data: Path) -> list[Kept]:
    """Every file that belongs to the objects, plans and photos below the folder `data`; links are none."""
    found = []
    for top in FOLDERS:
        for folder, inner, names in os.walk(data / top):
            inner[:] = sorted(name for name in inner if not name.endswith(_UNFINISHED))
            for name in sorted(names):
                path = Path(folder) / name
                if path.is_symlink() or not path.is_file() or name.endswith(_UNFINISHED):
                    continue
                found.append(Kept(path.relative_to(data).as_posix(), path, path.stat().st_size))
    return found


def whole_size(register: Register, data: Path) -> int:
    """Bytes of the register and of all files before packing, which makes them less."""
    return register.path.stat().st_size + sum(one.size for one in kept_files(data))


def packed_studio(register: Register, data: Path) -> Iterator[bytes]:
    """The studio as a zip file, piece by piece, while others go on working.

    The register is copied first: what it names was written before it was named, so its files are there. What
    is taken away meanwhile is left out.
    """
    pipe = _Pipe()
    with tempfile.TemporaryDirectory(prefix="claybed-") as scratch, zipfile.ZipFile(pipe, "w") as packed:
        copy = Path(scratch) / REGISTER
        back_up(register, copy)
        files = [Kept(REGISTER, copy, copy.stat().st_size), *kept_files(data)]
        facts = {"claybed_backup": FORMAT, "claybed": __version__, "files": len(files)}
        packed.writestr(FACTS, json.dumps(facts))
        for one in files:
            yield from _entry(packed, pipe, one)
    yield pipe.taken()


def _entry(packed: zipfile.ZipFile, pipe: _Pipe, one: Kept) -> Iterator[bytes]:
    try:
        source = one.path.open("rb")
    except FileNotFoundError:
        return
    info = zipfile.ZipInfo(one.name)
    info.external_attr = 0o600 << 16
    already = one.name.endswith(_PACKED_ALREADY)
    info.compress_type = zipfile.ZIP_STORED if already else zipfile.ZIP_DEFLATED
    info.file_size = one.size
    with source, packed.open(info, "w", force_zip64=True) as out:
        while chunk := source.read(_CHUNK):
            out.write(chunk)
            yield pipe.taken()


class _Pipe(io.RawIOBase):
    """What a zip file is written into: it only goes on, and is handed out as it comes."""

    def __init__(self) -> None:
        super().__init__()
        self._parts: list[bytes] = []

    def writable(self) -> bool:
        return True

    def write(self, data: object, /) -> int:
        part = bytes(data)  # type: ignore[call-overload]
        self._parts.append(part)
        return len(part)

    def taken(self) -> bytes:
        """What was written since this was last asked."""
        whole = b"".join(self._parts)
        self._parts.clear()
        return whole
