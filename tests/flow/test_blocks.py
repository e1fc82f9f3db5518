"""A block at another wall: what is told without cutting is what cutting gives."""

from __future__ import annotations

from dataclasses import replace

import pytest

from claybed.errors import CannotError, InputError
from claybed.flow import molding
from claybed.flow.blocks import blocks_of
from claybed.flow.molding import Molded
from claybed.flow.searching import make_mold
from claybed.materials import shelf
from claybed.proof.closings import close_one_way
from claybed.records.assembly import Assembly
from claybed.records.brief import Brief
from claybed.survey.surveying import survey
from tests.pieces import solids
from tests.survey.objects import measured


def quiet(phase: str, part: float) -> None:
    """Take progress and say nothing."""


def plaster_ml(molded: Molded) -> float:
    """The plaster of all pieces, as it was cut."""
    return sum(piece.solid.volume_mm3 for piece in molded.assembly.pieces) / 1000.0


@pytest.mark.parametrize("shape", ["boxed", "round"])
@pytest.mark.parametrize("gate", ["auto", "none"])
def test_another_wall_is_told_as_it_would_be_cut(shape: str, gate: str) -> None:
    """From one mold the block and plaster of another wall and outside follow to a few parts in a million."""
    obj = measured(solids.lumpy_sphere(1200))
    brief = Brief(pieces=2, keys=False, gate=gate, axis=(0.0, 0.0, 1.0), wall_mm=30.0, max_fill_ml=99.0)  # type: ignore[arg-type]
    found = survey(obj, brief, progress=quiet)
    first = make_mold(obj, found, replace(brief, shape="boxed"), progress=quiet)
    at = blocks_of(obj, first, replace(brief, shape="boxed"))
    assert at(30.0, "boxed").plaster_ml == pytest.approx(plaster_ml(first), rel=1e-9)
    cut = make_mold(obj, found, replace(brief, wall_mm=47.0, shape=shape), progress=quiet)  # type: ignore[arg-type]
    told = at(47.0, shape)  # type: ignore[arg-type]
    assert told.outer_mm == pytest.approx(cut.assembly.outer_mm)
    assert told.plaster_ml == pytest.approx(plaster_ml(cut), rel=2e-5)


def test_a_block_is_widened_until_its_keys_close_it_one_way(monkeypatch: pytest.MonkeyPatch) -> None:
    """Keys that would fit turned round as well are no keys: the block grows by steps, as where none fit."""
    obj = measured(solids.sphere(20.0, subdivisions=2))
    brief = Brief(pieces=2, axis=(0.0, 0.0, 1.0), gate="none")
    found = survey(obj, brief, progress=quiet)
    usual = make_mold(obj, found, brief, progress=quiet).assembly
    assert all(check.ok for check in close_one_way(usual, keys_asked=True))
    asked: list[float] = []

    def told_apart(assembly: Assembly) -> bool:
        asked.append(assembly.wall_mm)
        return len(asked) > 2

    monkeypatch.setattr(molding, "told_apart", told_apart)
    wider = make_mold(obj, found, brief, progress=quiet).assembly
    step_mm = shelf.value("practice", "key_room_step_mm").value
    assert asked == pytest.approx([usual.wall_mm, usual.wall_mm + step_mm, usual.wall_mm + 2.0 * step_mm])
    assert wider.wall_mm == pytest.approx(asked[-1])


def test_walls_that_cannot_be_are_refused() -> None:
    """Too thin a wall, and one thicker than is tried, are refused with a sentence."""
    obj = measured(solids.sphere(20.0, subdivisions=2))
    brief = Brief(pieces=2, axis=(0.0, 0.0, 1.0))
    molded = make_mold(obj, survey(obj, brief, progress=quiet), brief, progress=quiet)
    at = blocks_of(obj, molded, brief)
    with pytest.raises(InputError, match="thinner than plaster molds"):
        at(2.0, "boxed")
    with pytest.raises(CannotError, match="more than is tried"):
        at(400.0, "boxed")
