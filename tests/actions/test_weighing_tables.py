"""Weighings between the log of the command and the tables of the register: none lost, none twice."""

from __future__ import annotations

import csv
import io
import zipfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from claybed.actions.drying import DryWish, dry_document
from claybed.actions.weighing_log import append_weighing, read_log
from claybed.actions.weighing_tables import Entered, as_log, missing_from, of_one_piece, read_table
from claybed.errors import InputError
from claybed.records.weighing import Weighing

START_S = 1_790_000_000.0
ROWS = [
    ("2026-11-20T10:00:00.250Z", "K7Q2", "A", 3000.0, "=just set", "Ines"),
    ("2026-11-21T10:00:00.000Z", "K7Q2", "A", 2700.5, "", "Ines"),
    ("2026-11-21T10:05:00.000Z", "K7Q2", "B", 2500.0, 'rinsed, "twice"', ""),
    ("2026-11-22T10:00:00.000Z", "M3XX", "A", 1500.0, "", ""),
]


def table(rows: list[tuple[str, str, str, float, str, str]] = ROWS) -> bytes:
    """The register's weighings as it exports them."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(["id", "client_key", "made_at", "at", "mold", "letter", "mass_g", "note", "by"])
    for number, (at, mold, letter, mass_g, note, by) in enumerate(rows):
        plain = f"'{note}" if note[:1] == "=" else note
        writer.writerow([number, "", at, at, mold, letter, mass_g, plain, by])
    return out.getvalue().encode()


def packed(data: bytes) -> bytes:
    """The same as the app hands it out, in a ZIP."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as folder:
        folder.writestr("mold.csv", "id\n")
        folder.writestr("weighing.csv", data)
    return out.getvalue()


@pytest.mark.parametrize("pack", [False, True])
def test_a_table_of_the_register_is_read_whole(pack: bool) -> None:
    """Every row keeps moment, mass, note, mold, piece and person, from the CSV and from the ZIP."""
    read = read_table(packed(table()) if pack else table(), "weighing.csv")
    assert [(one.mold, one.piece, one.weighing.mass_g, one.weighing.note, one.by) for one in read] == [
        (mold, letter, mass_g, note, by) for _, mold, letter, mass_g, note, by in ROWS
    ]
    assert read[1].weighing.at_s - read[0].weighing.at_s == pytest.approx(86400.0 - 0.25)


def test_one_piece_is_chosen() -> None:
    """A file of several pieces is asked about by name; mold and piece choose one of them."""
    read = read_table(table(), "weighing.csv")
    with pytest.raises(InputError, match="K7Q2 A, K7Q2 B, M3XX A"):
        of_one_piece(read, where="weighing.csv")
    with pytest.raises(InputError, match="holds no weighing"):
        of_one_piece(read, mold="K7Q2", piece="C", where="weighing.csv")
    assert len(of_one_piece(read, mold="k7q2", piece="A", where="weighing.csv")) == 2


@settings(max_examples=40)
@given(
    rows=st.lists(
        st.tuples(
            st.integers(0, 10_000_000),
            st.integers(1, 40_000_000).map(lambda hundredths: hundredths / 100.0),
            st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=20).map(str.strip),
        ),
        max_size=8,
        unique_by=lambda row: (row[0], row[1]),
    )
)
def test_a_log_comes_back_as_it_was(rows: list[tuple[int, float, str]]) -> None:
    """Written as a log and read again, every weighing is itself; a second reading adds none."""
    entered = [Entered(Weighing(START_S + s, g, note), "K7Q2", "A", "Ines") for s, g, note in rows]
    read = read_table(as_log(entered).encode(), "log")
    assert sorted(read, key=lambda one: one.key) == sorted(entered, key=lambda one: one.key)
    assert missing_from(read, [one.weighing for one in entered]) == []


def test_the_command_takes_what_it_lacks(tmp_path: Path) -> None:
    """Taken into a log that has one of them, the other is added; taken again, nothing changes."""
    file, log = tmp_path / "weighing.csv", tmp_path / "a.jsonl"
    file.write_bytes(table())
    append_weighing(log, read_table(table(), "")[0].weighing)
    wish = DryWish(log=log, take=file, mold="K7Q2", piece="A")
    told = dry_document(wish)
    assert told["log"]["weighings"] == 2 and told["log"]["last_g"] == 2700.5
    assert "1 of 2 weighings were taken from weighing.csv; 1 were there" in told["findings"][0]["says"]
    before = log.read_bytes()
    dry_document(wish)
    assert log.read_bytes() == before
    assert [one.note for one in read_log(log)] == ["=just set", ""]


def test_nothing_is_taken_when_one_cannot_be(tmp_path: Path) -> None:
    """A weighing that this plaster can never have refuses the file, and the log stays as it was."""
    file, log = tmp_path / "weighing.csv", tmp_path / "a.jsonl"
    file.write_bytes(table([*ROWS[:2], ("2026-11-23T10:00:00Z", "K7Q2", "A", 300.0, "", "")]))
    with pytest.raises(InputError, match="300 g"):
        dry_document(DryWish(log=log, take=file, piece="A"))
    assert read_log(log) == []


@pytest.mark.parametrize(
    ("data", "complaint"),
    [
        (b"PK\x03\x04nothing", "holds no weighing.csv"),
        (b"at,mass_g\n2026-11-20,heavy\n", "line 2 is no weighing"),
        (b"at,mass_g\n2026-11-20,nan\n", "line 2 is no weighing"),
        (b"at,mass_g\nyesterday,12\n", "line 2 is no weighing"),
        (b'at,mass_g\n2026-11-20,"12\n', "no table row|no weighing"),
        (b'{"at": "2026-11-20", "mass_g": true}\n', "line 1 is no weighing"),
        (b"[1]\n{}\n", "line 1 is no weighing"),
        (b"\xff\xfe\x00\n\n", "line 1 is no weighing"),
        (b"x" * 5_000_001, "too large"),
    ],
)
def test_what_is_no_table_is_refused(data: bytes, complaint: str) -> None:
    """A file that holds no weighings, or a damaged one, is refused by its line."""
    with pytest.raises(InputError, match=complaint):
        read_table(data, "file")
