"""Entries on a mold: once each, and only what can be."""

from __future__ import annotations

import math
from typing import Any

import pytest

from claybed.errors import InputError
from claybed.register import entering, keeping
from claybed.register.devices import devices, known_device, let_in, shut_out
from claybed.register.entering import Stamp
from claybed.register.opening import Register
from claybed.register.working import add_job, end_job, jobs_about, note_interrupted, one_job, start_job

NOW = "2026-11-25T10:00:00Z"


def test_an_entry_sent_twice_is_kept_once(register: Register, mold: str) -> None:
    """The same key from a device gives the first entry again, and no second row."""
    stamp = Stamp(NOW, NOW, by="Ayo", client_key="tablet-1")
    with register.writing() as db:
        first = entering.log_weighing(db, mold, "A", stamp, mass_g=2180.0)
    with register.writing() as db:
        second = entering.log_weighing(db, mold, "A", stamp, mass_g=2180.0)
    assert (first["again"], second["again"]) == (False, True)
    assert first["id"] == second["id"]
    with register.reading() as db:
        assert [one["mass_g"] for one in entering.entries(db, "weighing", mold)] == [2180.0]


def test_a_pour_keeps_what_was_shown(register: Register, mold: str) -> None:
    """A logged pour carries the plan's hash and the figures that stood on the screen."""
    shown = {"water_g": 1415.0, "plaster_g": 1840.0}
    with register.writing() as db:
        kept = entering.log_pour(
            db, mold, "A", Stamp(NOW, NOW), batch=1, plan_sha256="ab" * 32, shown=shown,
            water_g=1420.0, plaster_g=1838.0, water_c=21.0, set_at="2026-11-25T10:40:00Z", lot="7 B",
        )  # fmt: skip
    assert kept["shown"] == '{"water_g": 1415.0, "plaster_g": 1840.0}'
    assert kept["plan_sha256"] == "ab" * 32
    assert (kept["water_g"], kept["plaster_g"], kept["lot"]) == (1420.0, 1838.0, "7 B")


@pytest.mark.parametrize("mass_g", [0.0, -1.0, math.nan, math.inf, 1e9])
def test_weights_no_scale_shows(register: Register, mold: str, mass_g: float) -> None:
    """An impossible weight is refused; nothing is kept."""
    with pytest.raises(InputError), register.writing() as db:
        entering.log_weighing(db, mold, "A", Stamp(NOW, NOW), mass_g=mass_g)
    with register.reading() as db:
        assert entering.entries(db, "weighing", mold) == []


def test_an_unknown_piece_is_said(register: Register, mold: str) -> None:
    """A piece the mold does not have is named, with those it has."""
    with pytest.raises(InputError, match=r"A, B"), register.writing() as db:
        entering.log_weighing(db, mold, "C", Stamp(NOW, NOW), mass_g=100.0)


def test_history_holds_every_kind_latest_first(register: Register, mold: str) -> None:
    """One list tells a mold's life."""
    with register.writing() as db:
        entering.log_weighing(db, mold, "B", Stamp(NOW, "2026-11-26T09:00:00Z"), mass_g=2000.0)
        entering.log_casting(db, mold, Stamp(NOW, "2026-11-28T09:00:00Z"), stood_min=12.0, wall_mm=4.1)
        entering.log_remark(db, mold, Stamp(NOW, "2026-11-27T09:00:00Z"), kind="fault", words="chip at key")
    with register.reading() as db:
        assert [one["log"] for one in entering.history(db, mold)] == ["casting", "remark", "weighing"]


@pytest.mark.parametrize("bad", [{"stood_min": -3.0}, {"wall_mm": 0.0}, {"stood_min": math.nan}])
def test_casts_that_cannot_be(register: Register, mold: str, bad: dict[str, Any]) -> None:
    """A cast of no time or no wall is refused."""
    with pytest.raises(InputError), register.writing() as db:
        entering.log_casting(db, mold, Stamp(NOW, NOW), **({"stood_min": None, "wall_mm": None} | bad))


def test_trimmed_weight_gives_the_target(register: Register, mold: str) -> None:
    """The trimmed weight and its dry target are kept on the piece; a heavier dry one is refused."""
    with register.writing() as db:
        entering.set_trimmed(db, mold, "A", wet_g=3000.0, dry_target_g=2011.2)
    with register.reading() as db:
        (first, _) = keeping.one_mold(db, mold)["pieces"]
    assert (first["trimmed_wet_g"], first["dry_target_g"]) == (3000.0, 2011.2)
    with pytest.raises(InputError), register.writing() as db:
        entering.set_trimmed(db, mold, "A", wet_g=3000.0, dry_target_g=3100.0)


def test_a_device_comes_in_by_its_token_until_shut_out(register: Register) -> None:
    """A token lets its device in, no other text does, and nothing after it is shut out."""
    with register.writing() as db:
        device, token = let_in(db, name="bench tablet", role="bench", now=NOW)
    with register.reading() as db:
        found = known_device(db, token)
        assert found is not None
        assert (found["name"], found["role"]) == ("bench tablet", "bench")
        assert token not in str(found)
        assert known_device(db, token + "x") is None
        assert [one["id"] for one in devices(db)] == [device]
    with register.writing() as db:
        shut_out(db, device, now=NOW)
    with register.reading() as db:
        assert known_device(db, token) is None


def test_work_that_was_under_way_is_told_after_a_restart(register: Register) -> None:
    """Finished work stays finished; the rest is marked as interrupted."""
    with register.writing() as db:
        done = add_job(db, kind="plan", about="ABCDE", now=NOW)
        left = add_job(db, kind="plan", about="ABCDE", now=NOW)
        end_job(db, done, "done", now=NOW, result={"plan": "XYZ23"})
        start_job(db, left)
    with register.writing() as db:
        assert note_interrupted(db, now=NOW) == 1
    with register.reading() as db:
        kept = one_job(db, done)
        assert kept is not None
        assert kept["result"] == {"plan": "XYZ23"}
        assert [one["state"] for one in jobs_about(db, "ABCDE")] == ["interrupted", "done"]
