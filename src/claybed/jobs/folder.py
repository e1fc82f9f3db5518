"""A folder that appears whole or not at all.

Work is written to a hidden folder beside the final place and renamed into it at the end. The hidden folder
is locked while its maker lives, so that the next run can tell a dead maker's remains and sweep them.
"""

from __future__ import annotations

import contextlib
import fcntl
import json
import os
import secrets
import shutil
from collections.abc import Iterator, Mapping
from pathlib import Path

from claybed.errors import InputError

MARK = ".claybed-folder.json"
_LOCK = ".lock"
_PART = ".part"
_LEFT_BY_DESKTOPS = {".DS_Store", "Thumbs.db", "desktop.ini", ".directory"}


@contextlib.contextmanager
def new_folder(final: Path, *, replace: bool) -> Iterator[Path]:
    """Give a hidden empty folder to write into; on success it is renamed to `final`, on any error removed.

    `final` may not exist, or be an empty folder, or, with `replace`, a folder that an earlier call made and
    in which nobody has put files of their own. Raises InputError otherwise, before any work is done. What
    an interrupted run left beside `final` is removed.
    """
    final = Path(os.path.abspath(final))  # noqa: PTH100 - the link itself is the name to use, not what it points to
    check_place(final, replace=replace)
    try:
        _sweep(final)
        work = final.parent / f".{final.name}.{secrets.token_hex(4)}{_PART}"
        work.mkdir()
    except OSError as error:
        raise _unwritable(final.parent, error) from error
    lock_fd = _lock(work)
    try:
        yield work
        check_place(final, replace=replace)  # someone may have written there meanwhile
        _seal(work)
        _put(work, final)
    except BaseException:
        shutil.rmtree(work, ignore_errors=True)
        raise
    finally:
        os.close(lock_fd)


def add_files(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write further files, by their names in it, into a folder of `new_folder`, each whole or not at all.

    The folder's own list names them first, so that a later `replace` knows them. Raises InputError when the
    folder cannot be written to.
    """
    made = _made_files(folder)
    try:
        if made is not None:
            names = sorted(made | set(files))
            mark = json.dumps({"made_by": "claybed", "files": names}, indent=1) + "\n"
            _put_file(folder / MARK, mark.encode())
        for name, content in files.items():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            _put_file(folder / name, content)
    except OSError as error:
        raise _unwritable(folder, error) from error


def _put_file(place: Path, content: bytes) -> None:
    work = place.with_name(f".{place.name}.{secrets.token_hex(4)}{_PART}")
    try:
        work.write_bytes(content)
        work.replace(place)
    finally:
        work.unlink(missing_ok=True)


def check_place(final: Path, *, replace: bool) -> None:
    """Raise InputError when `final` must not be written to; see `new_folder`."""
    where = str(final)
    check_parent(final)
    if final.is_symlink() or (final.exists() and not final.is_dir()):
        raise InputError("is not a folder.", where=where, remedy="Name a folder that does not exist yet.")
    if not final.exists() or not any(final.iterdir()):
        return
    made = _made_files(final)
    if made is None:
        raise InputError(
            "holds files that claybed did not make.",
            where=where,
            remedy="Nothing was changed; name a folder that does not exist yet.",
        )
    if not replace:
        raise InputError(
            "is already there.", where=where, remedy="Add --replace to make it anew, or name another folder."
        )
    added = sorted(name for name in _files(final) - made if Path(name).name not in _LEFT_BY_DESKTOPS)
    if added:
        raise InputError(
            f"holds {added[0]}, which claybed did not make.",
            where=where,
            remedy="Nothing was changed; move it out first, or name another folder.",
        )


def check_parent(final: Path) -> None:
    """Raise InputError unless the folder that `final` goes into is there: a slip of the pen makes none."""
    if not final.parent.is_dir():
        raise InputError(
            "cannot be made, because the folder it goes into does not exist.",
            where=str(final),
            remedy=f"Make {final.parent} first, or name another place.",
        )


def _files(folder: Path) -> set[str]:
    paths = (path for path in folder.rglob("*") if path.is_symlink() or not path.is_dir())
    return {path.relative_to(folder).as_posix() for path in paths} - {MARK, _LOCK}


def _made_files(folder: Path) -> set[str] | None:
    try:
        mark = json.loads((folder / MARK).read_text("utf-8"))
        return {str(name) for name in mark["files"]}
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _lock(work: Path) -> int:
    lock_fd = os.open(work / _LOCK, os.O_CREAT | os.O_RDWR | os.O_CLOEXEC, 0o600)
    with contextlib.suppress(OSError):  # some network drives cannot lock; then nothing is swept there
        fcntl.flock(lock_fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
    return lock_fd


def _sweep(final: Path) -> None:
    for left in final.parent.glob(f".{final.name}.????????{_PART}"):
        try:
            lock_fd = os.open(left / _LOCK, os.O_RDWR | os.O_CLOEXEC)
        except OSError:
            continue
        try:
            fcntl.flock(lock_fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
            shutil.rmtree(left, ignore_errors=True)
        except OSError:  # its maker is alive
            continue
        finally:
            os.close(lock_fd)


def _seal(work: Path) -> None:
    (work / _LOCK).unlink(missing_ok=True)
    names = sorted(_files(work))
    (work / MARK).write_text(json.dumps({"made_by": "claybed", "files": names}, indent=1) + "\n", "utf-8")


def _put(work: Path, final: Path) -> None:
    old: Path | None = None
    try:
        if final.exists() and any(final.iterdir()):
            old = work.with_name(f".{final.name}.{secrets.token_hex(4)}.old")
            final.rename(old)
        work.rename(final)  # an empty folder in its place is taken over
    except OSError as error:
        if old is not None and not final.exists():
            old.rename(final)
        raise _unwritable(final, error) from error
    if old is not None:
        shutil.rmtree(old, ignore_errors=True)


def _unwritable(place: Path, error: OSError) -> InputError:
    return InputError(
        f"cannot be written ({error.strerror or error}).",
        where=str(place),
        remedy="Name a folder in a place you may write to.",
    )
