"""A file that appears whole or not at all."""

from __future__ import annotations

import contextlib
import os
import secrets
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from claybed.errors import InputError
from claybed.jobs.folder import check_parent

_PART: Final = ".part"
_MARK_BYTES: Final = 64


@contextlib.contextmanager
def new_file(final: Path, *, replace: bool, mark: bytes = b"") -> Iterator[Path]:
    """Give the path of a hidden file to write; on success it is renamed to `final`, on any error removed.

    `final` may not exist, or, with `replace`, be a file whose first bytes hold `mark`: what this program did
    not make is left alone. Raises InputError otherwise, before any work is done.
    """
    final = Path(os.path.abspath(final))  # noqa: PTH100 - the link itself is the name to use, not what it points to
    check_file(final, replace=replace, mark=mark)
    work = final.parent / f".{final.name}.{secrets.token_hex(4)}{_PART}"
    try:
        work.touch(mode=0o644)
    except OSError as error:
        raise _unwritable(final.parent, error) from error
    try:
        yield work
        check_file(final, replace=replace, mark=mark)  # someone may have written there meanwhile
        try:
            _settle(work)
            work.replace(final)
        except OSError as error:
            raise _unwritable(final, error) from error
    finally:
        work.unlink(missing_ok=True)


def check_file(final: Path, *, replace: bool, mark: bytes = b"") -> None:
    """Raise InputError when `final` must not be written to; see `new_file`."""
    where = str(final)
    check_parent(final)
    if final.is_dir():
        raise InputError("is a folder.", where=where, remedy="Name a file with --out.")
    if not final.exists() and not final.is_symlink():
        return
    if not replace:
        raise InputError(
            "is already there.", where=where, remedy="Add --replace to make it anew, or name another file."
        )
    try:
        with final.open("rb") as stream:
            head = stream.read(_MARK_BYTES)
    except OSError as error:
        raise _unwritable(final, error) from error
    if mark and mark not in head:
        raise InputError(
            "is a file that claybed did not make.",
            where=where,
            remedy="Nothing was changed; name another file.",
        )


def _settle(work: Path) -> None:
    """Have the disk hold the file before its name says that it is whole."""
    with work.open("rb") as stream:
        os.fsync(stream.fileno())


def _unwritable(place: Path, error: OSError) -> InputError:
    return InputError(
        f"cannot be written ({error.strerror or error}).",
        where=str(place),
        remedy="Name a file in a place you may write to.",
    )
