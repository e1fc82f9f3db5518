"""Objects, plans and molds in the register."""

from __future__ import annotations

import pytest

from claybed.errors import InputError
from claybed.register import keeping
from claybed.register.finding import search
from claybed.register.naming import LETTERS
from claybed.register.opening import Register

NOW = "2026-11-25T10:00:00Z"


def test_an_object_its_plan_and_its_mold_are_found_again(register: Register, mold: str) -> None:
    """What was kept is listed with what belongs to it."""
    with register.reading() as db:
        (thing,) = keeping.objects(db)
        (plan,) = keeping.plans(db, thing["id"])
        (listed,) = keeping.molds(db)
    assert (thing["name"], thing["plans"], thing["molds"]) == ("Dried gourd", 1, 1)
    assert thing["newest_plan"] == plan["id"]
    assert plan["brief"] == {"wall_mm": 30.0}
    assert listed["id"] == mold
    assert listed["object_name"] == "Dried gourd"
    assert [piece["letter"] for piece in listed["pieces"]] == ["A", "B"]


def test_ids_can_be_said_and_scratched(register: Register) -> None:
    """Ids are five letters and digits, none of which is taken for another in wet plaster."""
    with register.writing() as db:
        ids = [keeping.add_object(db, name=f"{n}", how="file", file="x", now=NOW) for n in range(50)]
    assert len(set(ids)) == 50
    assert all(len(one) == 5 and set(one) <= set(LETTERS) for one in ids)
    assert not set("0O1ILUV") & set(LETTERS)


def test_two_people_saving_one_mold(register: Register, mold: str) -> None:
    """The second save of the same version is refused and shows what the first one said."""
    with register.writing() as db:
        saved = keeping.change_mold(db, mold, {"shelf": "north 2"}, version=1, by="Ayo")
    assert (saved["shelf"], saved["version"]) == ("north 2", 2)
    with pytest.raises(keeping.StaleError, match="Ayo saved") as stale, register.writing() as db:
        keeping.change_mold(db, mold, {"shelf": "south 1"}, version=1, by="Brin")
    assert stale.value.theirs["shelf"] == "north 2"
    with register.reading() as db:
        assert keeping.one_mold(db, mold)["shelf"] == "north 2"


@pytest.mark.parametrize(
    ("changes", "words"),
    [({"state": "lost"}, "no state"), ({"version": "9"}, "cannot be changed"), ({"name": " \n "}, "name")],
)
def test_a_change_that_makes_no_sense(
    register: Register, mold: str, changes: dict[str, str], words: str
) -> None:
    """An unknown state or field, or an empty name, is refused and nothing is saved."""
    with pytest.raises(InputError, match=words), register.writing() as db:
        keeping.change_mold(db, mold, changes, version=1, by="Ayo")
    with register.reading() as db:
        assert keeping.one_mold(db, mold)["version"] == 1


def test_put_away_and_brought_back(register: Register, mold: str) -> None:
    """What is put away leaves the lists and comes back whole."""
    with register.writing() as db:
        keeping.put_away(db, "mold", mold, now=NOW)
    with register.reading() as db:
        assert keeping.molds(db) == []
        assert keeping.one_mold(db, mold)["removed_at"] == NOW
    with register.writing() as db:
        keeping.bring_back(db, "mold", mold)
    with register.reading() as db:
        assert [one["id"] for one in keeping.molds(db)] == [mold]


def test_an_unknown_id_is_said(register: Register) -> None:
    """An id that is not there is an error with the id in it."""
    with register.reading() as db, pytest.raises(InputError, match="QQQQQ"):
        keeping.one_mold(db, "QQQQQ")


@pytest.mark.parametrize("text", ["'; DROP TABLE mold; --", "<script>alert(1)</script>", "Käse 日本 ñ"])
def test_odd_names_are_only_names(register: Register, text: str) -> None:
    """A name is kept letter by letter, whatever it looks like."""
    with register.writing() as db:
        made = keeping.add_object(db, name=text, how="file", file="x", now=NOW)
    with register.reading() as db:
        assert keeping.one_object(db, made)["name"] == text
        assert keeping.molds(db) == []


@pytest.mark.parametrize(
    ("words", "kinds"),
    [
        ("gourd", {"object", "mold"}),
        ("bottle GOURD", {"mold"}),
        ("teapot", set()),
        ("  ", set()),
        ("%", set()),
    ],
)
def test_search_finds_every_word(register: Register, mold: str, words: str, kinds: set[str]) -> None:
    """All words must occur, in any case and order; a wildcard is only a sign."""
    with register.reading() as db:
        assert {one["kind"] for one in search(db, words)} == kinds


def test_search_finds_an_id_as_it_is_typed(register: Register, mold: str) -> None:
    """An id from a tag is found in small letters with spaces around."""
    with register.reading() as db:
        assert [one["id"] for one in search(db, f" {mold.lower()} ")] == [mold]
