"""Backup, restore and export of the register."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from claybed.errors import InputError
from claybed.register import entering, keeping
from claybed.register.copies import as_csv, as_json, back_up, restore
from claybed.register.devices import devices, let_in
from claybed.register.entering import Stamp
from claybed.register.opening import Register

NOW = "2026-11-25T10:00:00Z"


def weigh(register: Register, mold: str, mass_g: float, note: str = "") -> None:
    """Log one weighing of piece A."""
    with register.writing() as db:
        entering.log_weighing(db, mold, "A", Stamp(NOW, NOW), mass_g=mass_g, note=note)


def masses(register: Register, mold: str) -> list[float]:
    """The masses logged of a mold."""
    with register.reading() as db:
        return [one["mass_g"] for one in entering.entries(db, "weighing", mold)]


def test_backup_and_restore_bring_everything_back(register: Register, mold: str, tmp_path: Path) -> None:
    """After a restore the register says what the backup said, and what it said before is kept beside it."""
    weigh(register, mold, 900.0)
    copy = tmp_path / "backup.sqlite"
    back_up(register, copy)
    weigh(register, mold, 800.0)
    restore(register, copy)
    assert masses(register, mold) == [900.0]
    before = Register(register.path.with_name("register.before-restore.sqlite"))
    assert masses(before, mold) == [900.0, 800.0]


def test_tokens_stay_out_of_a_backup_and_in_the_register(
    register: Register, mold: str, tmp_path: Path
) -> None:
    """A backup that is mailed lets nobody in, and a restore shuts nobody out."""
    with register.writing() as db:
        device, _ = let_in(db, name="tablet", role="bench", now=NOW)
    copy = tmp_path / "backup.sqlite"
    back_up(register, copy)
    with Register(copy).reading() as db:
        assert devices(db) == []
    restore(register, copy)
    with register.reading() as db:
        assert [one["id"] for one in devices(db)] == [device]


def test_a_damaged_backup_changes_nothing(register: Register, mold: str, tmp_path: Path) -> None:
    """A backup with a hole in it is refused and the register stays as it is."""
    for k in range(200):
        weigh(register, mold, 1000.0 + k, note="a long note so that there are several pages " * 4)
    copy = tmp_path / "backup.sqlite"
    back_up(register, copy)
    data = bytearray(copy.read_bytes())
    data[4096 * 3 : 4096 * 20] = b"\x5a" * (4096 * 17)
    copy.write_bytes(bytes(data))
    with pytest.raises(InputError):
        restore(register, copy)
    assert len(masses(register, mold)) == 200


def test_export_says_everything(register: Register, mold: str) -> None:
    """JSON and CSV hold the same rows, without tokens."""
    weigh(register, mold, 912.5, note="after the first night")
    with register.writing() as db:
        let_in(db, name="tablet", role="bench", now=NOW)
    told = json.loads(as_json(register))
    assert told["tables"]["weighing"][0]["mass_g"] == 912.5
    assert "device" not in told["tables"]
    tables = as_csv(register)
    (line,) = csv.DictReader(io.StringIO(tables["weighing"]))
    assert (line["mass_g"], line["note"]) == ("912.5", "after the first night")
    assert "token" not in "".join(tables.values())


def test_a_formula_in_a_note_stays_text(register: Register) -> None:
    """A spreadsheet does not run what somebody typed as a name."""
    with register.writing() as db:
        keeping.add_object(db, name="=HYPERLINK(1)", how="file", file="x", now=NOW)
    (line,) = csv.DictReader(io.StringIO(as_csv(register)["object"]))
    assert line["name"] == "'=HYPERLINK(1)"
