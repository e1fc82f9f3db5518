"""A store on disk for what the stages have worked out: small, bounded, and never in the way.

Entries are pickled records. Only the project's own records and plain arrays are brought back; anything else,
and anything that cannot be read, counts as not known.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import os
import pickle
import tempfile
import time
from functools import cache
from pathlib import Path
from typing import Any, Final
from urllib.parse import unquote

import claybed

# A plan keeps about ten, most of them small, and an open page of any of the last hundred may ask for its own;
# what they weigh together is bounded beside.
MOST_ENTRIES: Final = 1000
MOST_BYTES: Final = 500_000_000
# A larger file is read anew each time: it takes longer to tell whether it is known than to refuse it.
MOST_SOURCE_BYTES: Final = 600_000_000
_SUFFIX: Final = ".record"
_PART: Final = ".part"
_ABANDONED_S: Final = 3600.0
_CHUNK_BYTES: Final = 1 << 20
_OWN: Final = ("claybed.records.", "claybed.geometry.", "claybed.flow.molding.")
_PLAIN: Final = {
    ("builtins", name)
    for name in ("tuple", "frozenset", "set", "list", "dict", "complex", "bytearray", "range", "slice")
} | {
    ("numpy", "ndarray"),
    ("numpy", "dtype"),
    ("numpy._core.multiarray", "_reconstruct"),
    ("numpy._core.multiarray", "scalar"),
    ("numpy._core.numeric", "_frombuffer"),
    ("copyreg", "_reconstructor"),
    ("builtins", "object"),
}


class DiskStore:
    """Keeps records in a folder, the newest `most_entries` of at most `most_bytes`; see flow.store.Store.

    Entries of another version of the package, or of other source text, are not found. No failure of the disk
    is an error: what cannot be kept is worked out again.
    """

    def __init__(
        self, folder: Path | None = None, *, most_entries: int = MOST_ENTRIES, most_bytes: int = MOST_BYTES
    ) -> None:
        self._folder = cache_folder() if folder is None else folder
        self._most_entries = most_entries
        self._most_bytes = most_bytes

    def get(self, key: str) -> object | None:
        """Return the record kept under `key`, or None when there is none that can be trusted and read."""
        path = self._path(key)
        try:
            record: object = _Reader(io.BytesIO(path.read_bytes())).load()
            os.utime(path)
        except Exception:  # whatever a damaged entry leads to, it is only forgotten
            return None
        return record

    def put(self, key: str, record: object) -> None:
        """Keep `record`, whole or not at all, and let go of the oldest entries beyond the bounds."""
        try:
            data = pickle.dumps(record, protocol=5)
            if len(data) > self._most_bytes:
                return
            self._folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            _write_whole(self._path(key), data)
        except Exception:  # a full disk or a record that cannot be pickled costs time later, nothing else
            return
        self._trim()

    def _path(self, key: str) -> Path:
        name = hashlib.sha256(f"{edition()} {key}".encode()).hexdigest()[:40]
        return self._folder / f"{name}{_SUFFIX}"

    def _trim(self) -> None:
        kept_bytes = 0
        for place, (_, size, path) in enumerate(sorted(self._entries(), reverse=True)):
            kept_bytes += size
            if place >= self._most_entries or kept_bytes > self._most_bytes:
                with contextlib.suppress(OSError):
                    path.unlink()
        self._sweep()

    def _sweep(self) -> None:
        """Remove what a run that was killed while it wrote has left behind."""
        with contextlib.suppress(OSError):
            for path in self._folder.glob(f".*{_PART}"):
                with contextlib.suppress(OSError):
                    if time.time() - path.stat().st_mtime > _ABANDONED_S:
                        path.unlink()

    def _entries(self) -> list[tuple[int, int, Path]]:
        found = []
        with contextlib.suppress(OSError):
            for path in self._folder.glob(f"*{_SUFFIX}"):
                with contextlib.suppress(OSError):
                    state = path.stat()
                    found.append((state.st_mtime_ns, state.st_size, path))
        return found


class _Reader(pickle.Unpickler):
    """Brings back records, arrays and plain values, and refuses every other name."""

    def find_class(self, module: str, name: str) -> Any:
        if (module, name) in _PLAIN:
            return super().find_class(module, name)
        if f"{module}.".startswith(_OWN) and "." not in name:
            found = super().find_class(module, name)
            if isinstance(found, type) and found.__module__ == module:
                return found
        raise pickle.UnpicklingError(f"{module}.{name} is no record")


def cache_folder() -> Path:
    """Where records are kept: claybed under $XDG_CACHE_HOME, or under ~/.cache."""
    home = os.environ.get("XDG_CACHE_HOME", "")
    base = Path(home) if home and Path(home).is_absolute() else Path.home() / ".cache"
    return base / "claybed"


@cache
def edition() -> str:
    """The version of the package and a mark of its source files: changed code finds no old records."""
    root = Path(claybed.__file__).parent
    marks = [claybed.__version__]
    for path in sorted(p for kind in ("*.py", "*.toml") for p in root.rglob(kind)):
        state = path.stat()
        marks.append(f"{path.relative_to(root)} {state.st_size} {state.st_mtime_ns}")
    return hashlib.sha256("\n".join(marks).encode()).hexdigest()


def source_of(path: Path) -> str | None:
    """A text that stands for what a file holds and is called, or None when it cannot be known beforehand.

    A glTF file stands for the buffers it names as well.
    """
    try:
        if not path.is_file() or path.stat().st_size > MOST_SOURCE_BYTES:
            return None
        files = [path, *(_buffers(path) if path.suffix.casefold() == ".gltf" else ())]
        digest = hashlib.sha256()
        for file in files:
            digest.update(f"{file.name}\n".encode())
            with file.open("rb") as stream:
                while chunk := stream.read(_CHUNK_BYTES):
                    digest.update(chunk)
    except (OSError, ValueError, TypeError, AttributeError):
        return None
    return digest.hexdigest()


def _buffers(path: Path) -> list[Path]:
    names = [str(buffer.get("uri", "")) for buffer in json.loads(path.read_bytes()).get("buffers", [])]
    return [path.parent / unquote(name) for name in names if name and not name.startswith("data:")]


def _write_whole(path: Path, data: bytes) -> None:
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".", suffix=_PART)
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
        part.replace(path)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
