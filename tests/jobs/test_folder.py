"""A folder that appears whole or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from claybed.errors import InputError
from claybed.jobs.folder import new_folder


def make(final: Path, text: str = "one", *, replace: bool = False) -> None:
    """Make a folder with two files in it."""
    with new_folder(final, replace=replace) as work:
        (work / "pieces").mkdir()
        (work / "pieces" / "a.stl").write_text(text)
        (work / "plan.json").write_text(text)


def test_nothing_is_seen_until_it_is_whole(tmp_path: Path) -> None:
    """The final name appears only at the end, and nothing else stays beside it."""
    final = tmp_path / "pot.claybed"
    with new_folder(final, replace=False) as work:
        (work / "plan.json").write_text("one")
        assert not final.exists()
        assert work.parent == final.parent
        assert work.name.startswith(".")
    assert (final / "plan.json").read_text() == "one"
    assert [path.name for path in final.parent.iterdir()] == ["pot.claybed"]


@pytest.mark.parametrize("error", [RuntimeError, KeyboardInterrupt, SystemExit])
def test_failure_leaves_nothing(tmp_path: Path, error: type[BaseException]) -> None:
    """Whatever goes wrong inside, no file stays."""
    with pytest.raises(error), new_folder(tmp_path / "pot.claybed", replace=False) as work:
        (work / "plan.json").write_text("half")
        raise error
    assert list(tmp_path.iterdir()) == []


def test_failure_keeps_the_earlier_folder(tmp_path: Path) -> None:
    """A failed replacement leaves the earlier folder as it was."""
    final = tmp_path / "pot.claybed"
    make(final)
    with pytest.raises(RuntimeError), new_folder(final, replace=True):
        raise RuntimeError
    assert (final / "plan.json").read_text() == "one"
    assert len(list(tmp_path.iterdir())) == 1


def test_replacing_is_asked_for(tmp_path: Path) -> None:
    """An earlier folder is replaced with `replace` and refused without."""
    final = tmp_path / "pot.claybed"
    make(final)
    with pytest.raises(InputError, match="--replace"):
        make(final, "two")
    assert (final / "plan.json").read_text() == "one"
    make(final, "two", replace=True)
    assert (final / "pieces" / "a.stl").read_text() == "two"
    assert len(list(tmp_path.iterdir())) == 1


def test_foreign_folder_is_never_overwritten(tmp_path: Path) -> None:
    """A folder that claybed did not make is left alone even when replacing is asked for."""
    final = tmp_path / "photos"
    final.mkdir()
    (final / "cat.jpg").write_text("cat")
    with pytest.raises(InputError, match="did not make"):
        make(final, replace=True)
    assert (final / "cat.jpg").read_text() == "cat"
    assert len(list(final.iterdir())) == 1


def test_a_persons_own_file_stops_the_replacement(tmp_path: Path) -> None:
    """Notes that someone put into a plan's folder are not thrown away with it."""
    final = tmp_path / "pot.claybed"
    make(final)
    (final / "pieces" / "notes.txt").write_text("poured on Monday")
    with pytest.raises(InputError, match=r"pieces/notes\.txt"):
        make(final, "two", replace=True)
    assert (final / "pieces" / "notes.txt").read_text() == "poured on Monday"
    assert (final / "plan.json").read_text() == "one"


def test_what_desktops_leave_does_not_stop_the_replacement(tmp_path: Path) -> None:
    """Files that file managers put everywhere are nobody's own."""
    final = tmp_path / "pot.claybed"
    make(final)
    (final / "pieces" / ".DS_Store").write_text("icons")
    make(final, "two", replace=True)
    assert (final / "plan.json").read_text() == "two"


def test_foreign_files_that_arrive_during_the_work_are_kept(tmp_path: Path) -> None:
    """A folder that someone fills while the work runs is not overwritten at the end."""
    final = tmp_path / "pot.claybed"
    with pytest.raises(InputError, match="did not make"), new_folder(final, replace=False):
        final.mkdir()
        (final / "theirs.txt").write_text("theirs")
    assert (final / "theirs.txt").read_text() == "theirs"
    assert len(list(tmp_path.iterdir())) == 1


def test_empty_folder_is_taken_over(tmp_path: Path) -> None:
    """A folder made beforehand and still empty may be named."""
    final = tmp_path / "pot.claybed"
    final.mkdir()
    make(final)
    assert (final / "plan.json").exists()


def test_file_and_link_are_refused(tmp_path: Path) -> None:
    """A file, or a link to somewhere else, is not a place for a folder."""
    (tmp_path / "file").write_text("x")
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "elsewhere")
    for name in ("file", "link"):
        with pytest.raises(InputError, match="not a folder"):
            make(tmp_path / name, replace=True)


@pytest.mark.skipif(not Path("/proc/self").exists(), reason="needs /proc, where nobody may write")
def test_unwritable_place_is_an_input_error() -> None:
    """A place that cannot be written to is named in one line."""
    with pytest.raises(InputError, match="cannot be written"):
        make(Path("/proc/self/pot.claybed"))


def test_folder_of_a_running_maker_is_not_swept(tmp_path: Path) -> None:
    """Two runs to the same place do not remove each other's half-made folder; the later one is refused at
    the end.
    """
    final = tmp_path / "pot.claybed"
    with new_folder(final, replace=False) as first:
        (first / "plan.json").write_text("first")
        with pytest.raises(InputError, match="already there"):  # noqa: SIM117 - the order of leaving is the point
            with new_folder(final, replace=False) as second:
                assert first.exists()
                (second / "plan.json").write_text("second")
                make(final, "third")
        assert (first / "plan.json").exists()
        make(final, "fourth", replace=True)
        (final / "plan.json").unlink()
        (final / "pieces" / "a.stl").unlink()
        (final / "pieces").rmdir()
        (final / ".claybed-folder.json").unlink()
    assert (final / "plan.json").read_text() == "first"
