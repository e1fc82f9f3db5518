"""Pieces and model fill the block to the last unit, and spoiled sheets are refused."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np
import pytest

from claybed.geometry.lattice import Z_PER_MM, to_lattice
from claybed.geometry.mesh import Mesh, Origin
from claybed.geometry.sheet import Sheet
from claybed.geometry.sheets import envelope
from claybed.mold.block import lay_out
from claybed.mold.pieces import cut_block
from claybed.parting.surface import part
from claybed.records.assembly import Assembly, Gate
from claybed.records.brief import Brief
from claybed.records.gated import GatePlan
from claybed.records.parted import Layout, Parting
from tests.mold.molds import BARE, UP, Vector, assert_whole, fill_mm3, model_mesh, mold, sheets_of
from tests.pieces import solids

Y: Vector = (0.0, 1.0, 0.0)
OBJECTS: dict[str, tuple[Callable[[], Mesh], Vector]] = {
    "ball": (partial(solids.sphere, 30.0, subdivisions=3), UP),
    "frustum": (partial(solids.frustum, 40.0, 25.0, 60.0, sides=64), UP),
    "ring": (partial(solids.torus, 40.0, 10.0, around=64, sides=24), UP),
    "ring_on_edge": (partial(solids.torus, 40.0, 10.0, around=64, sides=24), Y),
    "crescent": (solids.crescent, Y),
    "rods": (solids.three_rods, UP),
    "cup": (solids.cup_with_handle, Y),
}
WITH_ALL = Brief(max_fill_ml=1e6)


@pytest.mark.parametrize(
    ("name", "shape"),
    [(n, s) for n in sorted(OBJECTS) for s in ("boxed", "round") if (n, s) != ("cup", "round")],
)
def test_bare_molds_fill_their_block(name: str, shape: str) -> None:
    """Without gate and keys, boxed and round: closed, uncrowded, and volumes sum to the block's exactly."""
    make, pull = OBJECTS[name]
    assert_whole(mold(make(), pull, replace(BARE, shape=shape)).assembly)  # type: ignore[arg-type]


@pytest.mark.parametrize("name", ["ball", "cup", "ring_on_edge", "rods"])
def test_molds_with_gate_and_keys_fill_their_block(name: str) -> None:
    """With a bore and keys as well; the keys stand on one piece and the bore leaves through the side."""
    make, pull = OBJECTS[name]
    made = mold(make(), pull, replace(WITH_ALL, shape="boxed")).assembly
    assert_whole(made)
    assert len(made.keys) >= 3
    assert made.gate.kind == "bore"
    assert abs(made.gate.out[2]) < 1e-9
    origins = [set(p.solid.origin.tolist()) for p in made.pieces]
    assert all(int(Origin.KEY) in o and int(Origin.PARTING) in o for o in origins)
    side = np.abs(np.asarray(made.gate.out[:2])).argmax()
    reach = np.abs(made.model.points[:, side]).max()
    assert reach == np.abs(made.footprint[:, side]).max()


def test_a_frustum_takes_its_bore_in_the_middle_of_its_flat_end() -> None:
    """At the sharp rim, where the seam runs, a bore would take the edge: it leaves by the top."""
    make, pull = OBJECTS["frustum"]
    made = mold(make(), pull, replace(WITH_ALL, shape="boxed")).assembly
    assert_whole(made)
    assert made.gate.kind == "bore"
    assert made.gate.out == (0.0, 0.0, 1.0)
    assert np.hypot(*made.gate.at_mm[:2]) < 1.0
    assert made.gate.taken_mm == 0.0
    assert made.model.points[:, 2].max() == made.height


def test_a_round_mold_with_gate_and_keys_fills_its_block() -> None:
    """The flat that a round block gets for its gate is part of the sum."""
    made = mold(OBJECTS["ball"][0](), UP, replace(WITH_ALL, shape="round")).assembly
    assert_whole(made)
    assert made.shape == "round"
    assert len(made.outer_mm) == 2


def test_a_tumbler_is_one_piece() -> None:
    """One piece and the model fill the block; the open face lies on the board, where the model ends level."""
    made = mold(solids.tumbler(), (0.0, 0.0, -1.0), WITH_ALL, one_piece=True).assembly
    assert_whole(made)
    assert [p.id for p in made.pieces] == ["A"]
    assert made.gate.kind == "face"
    assert made.keys == ()
    z = made.model.points[:, 2]
    assert z.min() == 0
    assert z.max() < made.height - 15 * Z_PER_MM


@pytest.mark.parametrize("name", ["ball", "frustum", "rods"])
def test_objects_without_undercut_get_no_fill(name: str) -> None:
    """The model is the object to what snapping moves, and molding the model again needs nothing either."""
    make, pull = OBJECTS[name]
    obj = make()
    made = mold(obj, pull).assembly
    assert abs(fill_mm3(made, obj)) < 1e-3 * obj.area_mm2
    assert made.hidden_faces == 0
    assert not (made.model.origin == int(Origin.FILL)).any()


@pytest.mark.parametrize("name", ["ring_on_edge", "cup", "crescent"])
def test_molding_the_model_again_needs_no_fill(name: str) -> None:
    """What was filled once is filled."""
    make, pull = OBJECTS[name]
    first = mold(make(), pull).assembly
    model = model_mesh(first)
    again = mold(model, first.pieces[0].pull).assembly
    assert abs(fill_mm3(again, model)) < 1e-3 * model.area_mm2


def test_outer_sizes_are_whole_steps_of_a_ruler() -> None:
    """Boards are set to multiples of five millimetres, and the wall asked for stands all round."""
    made = mold(solids.box(41.0, 33.0, 27.0), UP, replace(BARE, shape="boxed", wall_mm=25.0)).assembly
    assert all(abs(v / 5.0 - round(v / 5.0)) < 1e-9 for v in made.outer_mm)
    reach = np.ptp(made.model.points, axis=0) / np.array([1024.0, 1024.0, 4096.0])
    assert ((np.array(made.outer_mm) - reach) / 2.0 >= 25.0 - 2.6).all()
    assert ((np.array(made.outer_mm) - reach)[:2] / 2.0 >= 25.0 - 0.01).all()


@pytest.fixture(scope="module")
def parted() -> tuple[Parting, Layout, Callable[[Parting], Assembly]]:
    """A parted cup, and what cuts its block."""
    obj = solids.cup_with_handle()
    gate = GatePlan("none", (0.0, 0.0, 0.0), float("nan"), False, "asked for none")
    layout = lay_out(obj, Y, gate, replace(BARE, shape="boxed"), pieces=2)
    lat = to_lattice(obj, layout.rotation, layout.shift_mm)
    parting = part(envelope(lat, layout.footprint), layout, spacing_mm=4.0, square_mm=10.0)
    plain = Gate("none", float("nan"), float("nan"), 0.0, (0.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    return parting, layout, lambda p: cut_block(p, layout, plain, lat, top_units=None, square_mm=10.0)


def test_the_sound_parting_is_cut(parted: tuple[Parting, Layout, Callable[[Parting], Assembly]]) -> None:
    """The sheets that are spoiled below give a whole mold as they are."""
    parting, _, cut = parted
    assert_whole(cut(parting))


def _spoiled(sheet: Sheet, how: str) -> Sheet:
    f, z, o, plan = sheet.faces.copy(), sheet.heights, sheet.origin, sheet.plan
    if how == "missing":
        return Sheet(plan, f[1:], z[1:], o[1:])
    if how == "film":  # a triangle laid twice, one over the other
        return Sheet(
            plan, np.concatenate([f, f[:1]]), np.concatenate([z, z[:1] + 9]), np.concatenate([o, o[:1]])
        )
    if how == "turned":
        f[0] = f[0][::-1]
        return Sheet(plan, f, z, o)
    moved = plan.copy()
    inner = int(f[len(f) // 2, 0])
    moved[inner] += 40_000
    return Sheet(moved, f, z, o)


@pytest.mark.parametrize(
    ("which", "how"),
    [
        *((sheet, how) for sheet in ("top", "bottom") for how in ("missing", "film", "turned", "moved")),
        *(("outside", how) for how in ("missing", "film", "turned")),
    ],
)
def test_spoiled_sheets_are_refused(
    parted: tuple[Parting, Layout, Callable[[Parting], Assembly]], which: str, how: str
) -> None:
    """A triangle missing, laid twice, turned over or moved away: no mold is cut from such a sheet."""
    parting, _, cut = parted
    bad = replace(parting, **{which: _spoiled(getattr(parting, which), how)})
    with pytest.raises(ArithmeticError, match=r"tile|outline"):
        cut(bad)


def test_a_corrupted_sheet_of_the_model_alone_is_refused_too() -> None:
    """The same for the simplest object, where nothing was ever cut."""
    obj = solids.frustum(40.0, 25.0, 60.0, sides=32)
    _, footprint, found = sheets_of(obj)
    assert found.cut_faces == 0
    gate = GatePlan("none", (0.0, 0.0, 0.0), float("nan"), False, "asked for none")
    layout = replace(lay_out(obj, UP, gate, BARE, pieces=2), footprint=footprint)
    parting = part(found, layout, spacing_mm=5.0, square_mm=10.0)
    plain = Gate("none", float("nan"), float("nan"), 0.0, (0.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    lat = sheets_of(obj)[0]
    assert_whole(cut_block(parting, layout, plain, lat, top_units=None, square_mm=10.0))
    bad = replace(parting, bottom=_spoiled(parting.bottom, "missing"))
    with pytest.raises(ArithmeticError):
        cut_block(bad, layout, plain, lat, top_units=None, square_mm=10.0)
