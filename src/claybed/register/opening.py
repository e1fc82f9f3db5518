"""The register's file: opened, brought up to date, read and written by any number of people at once."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Final

from claybed.errors import InputError
from claybed.register.migrations import STEPS

Row = dict[str, Any]
_BUSY_MS: Final = 60_000


class Register:
    """A register in one SQLite file; each use opens its own connection, so any thread may use it.

    `path` is made, with its folder, when it is not there. A file of an earlier version is copied beside
    itself before it is brought up to date. Raises InputError when it is no register, damaged, or of a later
    version.
    """

    def __init__(self, path: Path, *, steps: Sequence[Sequence[str]] = STEPS) -> None:
        self.path = path
        try:
            path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            with self._connected() as db:
                self._bring_up_to_date(db, steps)
        except sqlite3.DatabaseError as error:
            raise InputError(
                f"cannot be used as a register ({error}).",
                where=str(path),
                remedy="Restore the last backup, or name another folder.",
            ) from error
        except OSError as error:
            raise InputError(
                f"cannot be written ({error.strerror or error}).",
                where=str(path.parent),
                remedy="Name a folder that you may write to.",
            ) from error

    @contextlib.contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """Give a connection that sees one unchanging state."""
        with self._connected() as db:
            db.execute("BEGIN")
            try:
                yield db
            finally:
                db.execute("ROLLBACK")

    @contextlib.contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """Give a connection that writes all or nothing; what it wrote is on the disk when the block ends."""
        with self._connected() as db:
            # Taken at once: a lock that is upgraded later fails without waiting.
            db.execute("BEGIN IMMEDIATE")
            try:
                yield db
            except BaseException:
                db.execute("ROLLBACK")
                raise
            db.execute("COMMIT")

    @contextlib.contextmanager
    def _connected(self) -> Iterator[sqlite3.Connection]:
        db = sqlite3.connect(self.path, isolation_level=None, timeout=_BUSY_MS / 1000)
        try:
            self.path.chmod(0o600)
            db.row_factory = sqlite3.Row
            db.execute("PRAGMA journal_mode = WAL")
            db.execute("PRAGMA synchronous = FULL")
            db.execute("PRAGMA foreign_keys = ON")
            yield db
        finally:
            db.close()

    def _bring_up_to_date(self, db: sqlite3.Connection, steps: Sequence[Sequence[str]]) -> None:
        at = self._version(db)
        if at > len(steps):
            raise InputError(
                f"was written by a later claybed (version {at}; this one knows {len(steps)}).",
                where=str(self.path),
                remedy="Install that claybed, or restore an older backup. Nothing was changed.",
            )
        if at == len(steps):
            return
        if at:
            self._copy_before(db, at)
        for number in range(at, len(steps)):
            db.execute("BEGIN IMMEDIATE")
            try:
                # Another process may have been faster.
                if self._version(db) == number:
                    for statement in steps[number]:
                        db.execute(statement)
                    db.execute(f"PRAGMA user_version = {number + 1}")
            except BaseException:
                db.execute("ROLLBACK")
                raise
            db.execute("COMMIT")

    def _copy_before(self, db: sqlite3.Connection, version: int) -> None:
        copy = self.path.with_name(f"{self.path.stem}.before-{version + 1}{self.path.suffix}")
        if not copy.exists():
            with contextlib.closing(sqlite3.connect(copy)) as other:
                db.backup(other)

    @staticmethod
    def _version(db: sqlite3.Connection) -> int:
        found: int = db.execute("PRAGMA user_version").fetchone()[0]
        if not found and db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
            raise sqlite3.DatabaseError("it holds tables that are not a register's")
        return found


def rows(db: sqlite3.Connection, sql: str, values: Sequence[object] = ()) -> list[Row]:
    """Every row that a query finds, as plain dictionaries."""
    return [dict(row) for row in db.execute(sql, tuple(values))]


def row(db: sqlite3.Connection, sql: str, values: Sequence[object] = ()) -> Row | None:
    """The first row that a query finds, or None."""
    found = db.execute(sql, tuple(values)).fetchone()
    return None if found is None else dict(found)
