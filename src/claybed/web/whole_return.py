"""A studio brought back from one file: all of it, or nothing is changed.

The file may come from anywhere, so its names, sizes and register are looked at before any of it is kept. The
folders change places by renaming, the register last. A mark tells a later start that it was interrupted in
between; which way to go from there is read in the register, which changes at one blow.
"""

from __future__ import annotations

import contextlib
import json
import os
import secrets
import shutil
import stat
import tempfile
import zipfile
from pathlib import Path, PurePosixPath
from typing import IO, Final

from claybed.errors import CannotError, InputError
from claybed.register.copies import check_names, restore
from claybed.register.opening import Register
from claybed.web.whole_copy import FACTS, FOLDERS, FORMAT, REGISTER

KEPT: Final = "before-restore"
_MARK: Final = ".restoring.json"
_CHUNK: Final = 1 << 20
_MOST_FILES: Final = 200_000
_MOST_NAME: Final = 300
# Meshes as text shrink to a fifth, empty arrays to a hundredth; what claims more is made to fill a disk.
_MOST_RATIO: Final = 200
_ALWAYS_BYTES: Final = 50_000_000
_ROOM_LEFT_BYTES: Final = 200_000_000
_NOTHING: Final = "Nothing was changed; try an earlier backup."


def is_whole(file: IO[bytes]) -> bool:
    """Tell whether a file is packed, and so may be a whole studio; the register alone is not."""
    begins = file.read(4)
    file.seek(0)
    return begins.startswith(b"PK")


def bring_back(register: Register, data: Path, file: IO[bytes]) -> None:
    """Take a backup's register and files in place of what is in `data`, which is kept as `before-restore`.

    Raises InputError for what is no whole backup, is damaged or leads out of its place, CannotError when the
    disk has no room; then nothing is changed.
    """
    with tempfile.TemporaryDirectory(dir=data, prefix=".restore-") as folder:
        stage = Path(folder)
        _unpack(file, stage)
        token = secrets.token_hex(8)
        coming = Register(stage / REGISTER)
        check_names(coming, where="the backup")
        with coming.writing() as db:
            db.execute("INSERT OR REPLACE INTO setting (name, value) VALUES ('brought_back', ?)", (token,))
        _change_places(register, data, stage, token)


def go_on(register: Register, data: Path) -> None:
    """Finish, or undo, a return that was interrupted, and sweep away what it had unpacked; nothing when none
    was.
    """
    mark = data / _MARK
    if mark.is_file():
        try:
            token = json.loads(mark.read_text("utf-8"))["token"]
        except (ValueError, KeyError):  # killed while it was written: nothing had changed places yet
            token = None
        with register.reading() as db:
            found = db.execute("SELECT value FROM setting WHERE name = 'brought_back'").fetchone()
        if found is None or found["value"] != token:
            _put_back(data)
        mark.unlink()
    for left in data.glob(".restore-*"):
        shutil.rmtree(left, ignore_errors=True)


def _unpack(file: IO[bytes], stage: Path) -> None:
    size = file.seek(0, os.SEEK_END)
    file.seek(0)
    try:
        with zipfile.ZipFile(file) as packed:
            entries = packed.infolist()
            _check(entries, size)
            facts = json.loads(packed.read(FACTS))
            if not isinstance(facts, dict) or facts.get("claybed_backup") != FORMAT:
                raise InputError("is of another kind or version.", where="the backup", remedy=_NOTHING)
            check_room(stage, sum(entry.file_size for entry in entries))
            for name in FOLDERS:
                (stage / name).mkdir(mode=0o700)
            for entry in entries:
                _write(packed, entry, stage)
    except (zipfile.BadZipFile, zipfile.LargeZipFile, NotImplementedError, RuntimeError) as why:
        raise InputError(f"is damaged or cut short ({why}).", where="the backup", remedy=_NOTHING) from why
    except (EOFError, ValueError, RecursionError, KeyError) as why:
        raise InputError("is damaged.", where="the backup", remedy=_NOTHING) from why
    except OSError as why:  # one name for a file and a folder, or a disk that is full after all
        raise InputError(
            f"cannot be unpacked ({why.strerror or why}).", where="the backup", remedy=_NOTHING
        ) from why


def _check(entries: list[zipfile.ZipInfo], size: int) -> None:
    """Refuse names that lead anywhere else, and more than such a file can hold."""
    names = [entry.filename for entry in entries]
    if FACTS not in names or REGISTER not in names:
        raise InputError(
            "is no backup of a studio.", where="the file", remedy="Choose a file that “Backup” gave."
        )
    if len(entries) > _MOST_FILES or len(set(names)) != len(names):
        raise InputError("holds more files than a studio.", where="the backup", remedy=_NOTHING)
    for entry in entries:
        if not _plain(entry):
            shown = "".join(letter if letter.isprintable() else "?" for letter in entry.filename)
            raise InputError(
                f"holds a file that has no place in a studio (“{shown[:60]}”).",
                where="the backup",
                remedy=_NOTHING,
            )
    if sum(entry.file_size for entry in entries) > max(_ALWAYS_BYTES, _MOST_RATIO * size):
        raise InputError("claims to hold far more than its size.", where="the backup", remedy=_NOTHING)


def _plain(entry: zipfile.ZipInfo) -> bool:
    name = entry.orig_filename
    parts = PurePosixPath(name).parts
    if name != entry.filename or name != "/".join(parts) or not name.isprintable() or "\\" in name:
        return False
    if len(name) > _MOST_NAME or ".." in parts or entry.is_dir():
        return False
    mode = entry.external_attr >> 16
    if stat.S_IFMT(mode) not in (0, stat.S_IFREG):
        return False
    return name in (FACTS, REGISTER) or (len(parts) > 1 and parts[0] in FOLDERS)


def check_room(place: Path, size_bytes: int) -> None:
    """Refuse a backup of `size_bytes`, 0 or more, for which the disk of `place` has no room.

    Raises CannotError.
    """
    needed = size_bytes + _ROOM_LEFT_BYTES
    free = shutil.disk_usage(place).free
    if needed > free:
        raise CannotError(
            f"the backup needs {needed / 1e6:.0f} MB of room, and the disk has {free / 1e6:.0f} MB.",
            remedy="Make room and try again. Nothing was changed.",
        )


def _write(packed: zipfile.ZipFile, entry: zipfile.ZipInfo, stage: Path) -> None:
    place = stage / entry.filename
    place.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    # The reader gives at most the size that was checked, and raises when the content is another.
    with packed.open(entry) as source, place.open("xb") as out:
        shutil.copyfileobj(source, out, _CHUNK)


def _change_places(register: Register, data: Path, stage: Path, token: str) -> None:
    shutil.rmtree(data / KEPT, ignore_errors=True)
    (data / KEPT).mkdir(mode=0o700)
    mark = data / _MARK
    mark.write_text(json.dumps({"token": token}), "utf-8")
    try:
        for name in FOLDERS:
            (data / name).mkdir(exist_ok=True, mode=0o700)
            (data / name).rename(data / KEPT / name)
            (stage / name).rename(data / name)
        restore(register, stage / REGISTER)
    except BaseException:
        _put_back(data)
        mark.unlink()
        raise
    mark.unlink()


def _put_back(data: Path) -> None:
    for name in FOLDERS:
        kept = data / KEPT / name
        if kept.is_dir():
            shutil.rmtree(data / name, ignore_errors=True)
            kept.rename(data / name)
    with contextlib.suppress(OSError):
        (data / KEPT).rmdir()
