"""A file appears whole or not at all, and what was there is not lost."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from claybed.errors import InputError
from claybed.jobs.single_file import new_file

MARK = b"object.json"


def test_it_appears_at_the_end(tmp_path: Path) -> None:
    """Nothing of that name is there while it is written, and nothing else is left afterwards."""
    final = tmp_path / "cup.claybed"
    with new_file(final, replace=False) as work:
        work.write_bytes(b"whole")
        assert not final.exists()
    assert final.read_bytes() == b"whole"
    assert [path.name for path in final.parent.iterdir()] == ["cup.claybed"]


def test_a_failure_leaves_nothing(tmp_path: Path) -> None:
    """An error on the way leaves no file, and the error itself is passed on."""
    with pytest.raises(KeyError), new_file(tmp_path / "cup.claybed", replace=False) as work:
        work.write_bytes(b"half")
        raise KeyError("no")
    assert list(tmp_path.iterdir()) == []


def test_what_is_there_stays(tmp_path: Path) -> None:
    """A file is replaced only when asked and only when it is ours; a failed replacement keeps the old one."""
    final = tmp_path / "cup.claybed"
    final.write_bytes(b"notes of mine")
    for asked in (False, True):
        with pytest.raises(InputError), new_file(final, replace=asked, mark=MARK):
            pytest.fail("the work began")
    assert final.read_bytes() == b"notes of mine"
    final.write_bytes(b"PK " + MARK)
    with pytest.raises(InputError, match="--replace"), new_file(final, replace=False, mark=MARK):
        pytest.fail("the work began")
    with pytest.raises(KeyError), new_file(final, replace=True, mark=MARK) as work:
        work.write_bytes(b"half")
        raise KeyError("no")
    assert final.read_bytes() == b"PK " + MARK
    with new_file(final, replace=True, mark=MARK) as work:
        work.write_bytes(b"new")
    assert final.read_bytes() == b"new"


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    """A folder of that name is refused before any work is done."""
    (tmp_path / "cup.claybed").mkdir()
    with pytest.raises(InputError, match="is a folder"), new_file(tmp_path / "cup.claybed", replace=True):
        pytest.fail("the work began")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_place_that_cannot_be_written(tmp_path: Path) -> None:
    """A folder without permission ends in one sentence."""
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(InputError, match="cannot be written"), new_file(tmp_path / "a", replace=False):
            pytest.fail("the work began")
    finally:
        tmp_path.chmod(0o700)
