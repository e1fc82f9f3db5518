"""The register's file survives crowds, kills, later versions and rubbish."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import textwrap
import threading
from pathlib import Path

import pytest

from claybed.errors import InputError
from claybed.register import entering, keeping
from claybed.register.migrations import STEPS
from claybed.register.opening import Register, rows

NOW = "2026-11-25T10:00:00Z"


def test_a_new_register_is_empty_and_private(register: Register) -> None:
    """A new file has the tables, nothing in them, and is readable by its owner alone."""
    with register.reading() as db:
        assert keeping.objects(db) == []
        assert keeping.molds(db) == []
    assert register.path.stat().st_mode & 0o077 == 0


def test_an_aborted_write_leaves_nothing(register: Register) -> None:
    """What fails half way is as if it had not begun."""
    with pytest.raises(RuntimeError), register.writing() as db:
        keeping.add_object(db, name="Bowl", how="file", file="bowl.stl", now=NOW)
        raise RuntimeError
    with register.reading() as db:
        assert keeping.objects(db) == []


def test_many_writers_wait_for_each_other(register: Register, mold: str) -> None:
    """Eight people logging at once lose nothing and meet no error."""
    failures: list[BaseException] = []

    def log(person: int) -> None:
        try:
            for k in range(10):
                with register.writing() as db:
                    stamp = entering.Stamp(NOW, NOW, by=f"{person}", client_key=f"{person}-{k}")
                    entering.log_weighing(db, mold, "A", stamp, mass_g=1000.0 + k)
        except BaseException as error:  # shown below, where a failed thread would be silent
            failures.append(error)

    threads = [threading.Thread(target=log, args=(n,)) for n in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []
    with register.reading() as db:
        assert len(entering.entries(db, "weighing", mold)) == 80


def test_every_acknowledged_write_survives_a_kill(register: Register, mold: str) -> None:
    """Whatever was reported as written is there after kill -9, and the file is whole."""
    script = textwrap.dedent(
        f"""
        from pathlib import Path
        from claybed.register import entering
        from claybed.register.opening import Register
        register = Register(Path({str(register.path)!r}))
        k = 0
        while True:
            with register.writing() as db:
                stamp = entering.Stamp({NOW!r}, {NOW!r}, client_key=f"k{{k}}")
                entering.log_weighing(db, {mold!r}, "A", stamp, mass_g=500.0 + k)
            print(k, flush=True)
            k += 1
        """
    )
    with subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, text=True) as child:
        assert child.stdout is not None
        last = -1
        for line in child.stdout:
            last = int(line)
            if last == 25:
                os.kill(child.pid, signal.SIGKILL)
    assert last >= 25
    with Register(register.path).reading() as db:
        assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        kept = {one["client_key"] for one in entering.entries(db, "weighing", mold)}
    assert {f"k{k}" for k in range(last + 1)} <= kept


def test_a_later_version_is_refused_untouched(register: Register) -> None:
    """A file from a later claybed is not opened and not changed."""
    with sqlite3.connect(register.path) as db:
        db.execute("PRAGMA user_version = 99")
    with pytest.raises(InputError, match="later claybed"):
        Register(register.path)
    with sqlite3.connect(register.path) as db:
        assert db.execute("PRAGMA user_version").fetchone()[0] == 99


@pytest.mark.parametrize("content", [b"not a database at all, only words" * 40, b""])
def test_a_file_that_is_no_register(tmp_path: Path, content: bytes) -> None:
    """Another file is refused with a sentence; an empty one is a new register."""
    path = tmp_path / "register.sqlite"
    path.write_bytes(content)
    if content:
        with pytest.raises(InputError, match="cannot be used as a register"):
            Register(path)
        assert path.read_bytes() == content
    else:
        assert Register(path)


def test_tables_of_another_program_are_left_alone(tmp_path: Path) -> None:
    """A database that is not a register is refused, and stays as it was."""
    path = tmp_path / "recipes.sqlite"
    with sqlite3.connect(path) as db:
        db.execute("CREATE TABLE glaze (name TEXT)")
    db.close()
    with pytest.raises(InputError, match="not a register"):
        Register(path)
    with sqlite3.connect(path) as db:
        assert [row[0] for row in db.execute("SELECT name FROM sqlite_master")] == ["glaze"]
    db.close()


def test_a_further_step_keeps_every_row(register: Register, mold: str) -> None:
    """Bringing a file up to date keeps what it holds, and a copy from before stands beside it."""
    steps = (*STEPS, ("ALTER TABLE mold ADD COLUMN colour TEXT NOT NULL DEFAULT 'white'",))
    newer = Register(register.path, steps=steps)
    with newer.reading() as db:
        found = rows(db, "SELECT * FROM mold")
    assert [(one["id"], one["colour"]) for one in found] == [(mold, "white")]
    copy = register.path.with_name("register.before-2.sqlite")
    with Register(copy).reading() as db:
        assert [one["id"] for one in keeping.molds(db)] == [mold]


def test_a_step_that_fails_changes_nothing(register: Register, mold: str) -> None:
    """A step that breaks in the middle is undone whole."""
    steps = (*STEPS, ("ALTER TABLE mold ADD COLUMN colour TEXT", "ALTER TABLE nowhere ADD COLUMN x TEXT"))
    with pytest.raises(InputError):
        Register(register.path, steps=steps)
    with Register(register.path).reading() as db:
        assert "colour" not in rows(db, "SELECT * FROM mold")[0]
