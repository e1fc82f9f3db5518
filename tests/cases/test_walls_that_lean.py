"""Walls between two pieces lean in their cases: one leans into the other; against closed forms."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import manifold3d
import numpy as np
import pytest

from claybed.cases.generations import build_cement_case
from claybed.cases.giving_room import with_room
from claybed.cases.loose_cores import loose_parts
from claybed.cases.proving import case_checks, cement_checks, closing_checks, loose_checks, part_checks
from claybed.cases.standing import Readied, ready, stand_up
from claybed.cases.vessel import build_case
from claybed.geometry.forming import box, on_lattice
from claybed.geometry.slab import LatticeSolid
from claybed.records.assembly import BlockKey
from claybed.records.cases import Poured, Shape
from tests.cases.test_loose_keys import KEY, PULLS, cone
from tests.cases.test_side_piece_cases import PULLS as AROUND
from tests.cases.test_side_piece_cases import SHAPE, plugged

__all__ = ["plugged"]

LEAN = math.tan(math.radians(2.0))
WIDE_MM, TALL_MM, RADIUS_MM, HIGH_MM = 60.0, 40.0, 10.0, 20.0
ALONG_WALL = PULLS | {"C": (0.0, 1.0, 0.0)}


def readied(
    solids: Mapping[str, LatticeSolid],
    pulls: Mapping[str, Sequence[float]],
    keys: Sequence[BlockKey] = (),
    scale: float = 1.0,
) -> dict[str, Readied]:
    """Pieces of a block, 2 degrees of draft and 0.25 mm of clearance."""
    return {
        letter: ready(
            letter, solid, pulls[letter], keys, draft_deg=2.0, clearance_mm=0.25, pulls=pulls, scale=scale,
            others={name: other for name, other in solids.items() if name != letter},
        )
        for letter, solid in solids.items()
    }  # fmt: skip


def failed(poured: Poured, shape: Shape = SHAPE) -> list[tuple[str, float]]:
    """Checks of a piece's case that do not hold."""
    checks = [
        *case_checks(build_case(poured, shape)),
        *loose_checks(poured),
        *part_checks([*loose_parts(poured)] or build_case(poured, shape).parts, shape.printer_mm, "A"),
    ]
    return [(check.id, check.measured) for check in checks if not check.ok]


@pytest.fixture(scope="module")
def halves() -> dict[str, LatticeSolid]:
    """A block of two: C leaves along x with a bump that stands in A, which leaves along z."""
    main = box((0.0, -30.0, 0.0), (60.0, 30.0, TALL_MM)) - cone()
    side = box((60.0, -30.0, 0.0), (85.0, 30.0, TALL_MM)) + cone()
    return {"A": on_lattice(main), "C": on_lattice(side)}


@pytest.fixture(scope="module")
def stood(halves: dict[str, LatticeSolid]) -> dict[str, Poured]:
    """Both as their cases pour them."""
    leaning, taken = with_room(readied(halves, PULLS, [KEY]), PULLS, "CA")
    return {letter: stand_up(one, taken[letter]) for letter, one in leaning.items()}


def test_a_wall_leans_into_its_neighbour(halves: dict[str, LatticeSolid], stood: dict[str, Poured]) -> None:
    """All of A's outside leans, its wall to C too, and C lacks what that takes, but for its bump's foot.

    Source: closed form; a wall that leans by s over the height h takes s h² / 2 for every mm, and a round
    bump of radius r at the height z stands on s z more.
    """
    main, side = stood["A"], stood["C"]
    assert main.leaning_share == pytest.approx(1.0, abs=2e-3) and main.given_by == ("C",)
    assert side.given_by == () and main.met.count(True) == 1
    alone = readied(halves, PULLS, [KEY])
    lost_mm3 = stand_up(alone["C"]).solid.volume_mm3 - side.solid.volume_mm3
    foot_mm3 = math.pi * RADIUS_MM**2 * LEAN * HIGH_MM
    assert lost_mm3 == pytest.approx(WIDE_MM * LEAN * TALL_MM**2 / 2.0 - foot_mm3, rel=0.01)
    gained_mm3 = main.solid.volume_mm3 - stand_up(alone["A"]).solid.volume_mm3
    # The wall, and a corner of two walls that lean at either end of it.
    corners_mm3 = 2.0 * LEAN**2 * TALL_MM**3 / 3.0
    assert gained_mm3 == pytest.approx(WIDE_MM * LEAN * TALL_MM**2 / 2.0 + corners_mm3, rel=0.01)


def test_both_leave_their_cases_and_close(stood: dict[str, Poured]) -> None:
    """Pieces and loose keys leave, C leaves A afterwards; a C that gave no room would not."""
    assert failed(stood["A"]) == [] and failed(stood["C"]) == []
    assert [check.ok for check in closing_checks([stood["C"], stood["A"]], PULLS)] == [True]


def test_without_room_they_do_not_close(halves: dict[str, LatticeSolid], stood: dict[str, Poured]) -> None:
    """C as planned stands in the place into which A leans."""
    planned = stand_up(readied(halves, PULLS, [KEY])["C"])
    (check,) = closing_checks([planned, stood["A"]], PULLS)
    assert not check.ok and check.measured > 1.0


def test_a_neighbour_that_would_scrape_gives_no_room(halves: dict[str, LatticeSolid]) -> None:
    """Where the neighbour leaves along the wall, that stays upright: it cannot lean for both."""
    before = readied(halves, ALONG_WALL)
    leaning, taken = with_room(before, ALONG_WALL, "CA")
    assert leaning["A"] is before["A"] and taken == {"A": [], "C": []}


def test_a_mold_without_such_walls_stays_as_it_is() -> None:
    """Two halves that meet in a level plane have no wall to lean, and are not cut."""
    solids = {"A": on_lattice(box((0, 0, 0), (50, 40, 30))), "B": on_lattice(box((0, 0, -30), (50, 40, 0)))}
    pulls = {"A": (0.0, 0.0, 1.0), "B": (0.0, 0.0, -1.0)}
    before = readied(solids, pulls)
    leaning, taken = with_room(before, pulls, "AB")
    assert leaning == before and taken == {"A": [], "B": []}


def test_no_wall_leans_into_the_cavity() -> None:
    """A hollow in C beside the wall belongs to the object, so that the wall of A stays upright."""
    side = box((60.0, -30.0, 0.0), (85.0, 30.0, TALL_MM)) - box((59.0, -10.0, 15.0), (70.0, 10.0, 25.0))
    solids = {"A": on_lattice(box((0.0, -30.0, 0.0), (60.0, 30.0, TALL_MM))), "C": on_lattice(side)}
    before = readied(solids, PULLS)
    leaning, _ = with_room(before, PULLS, "CA")
    assert leaning["A"].wedges is None
    whole = solids | {"C": on_lattice(side + box((60.0, -10.0, 15.0), (70.0, 10.0, 25.0)))}
    assert with_room(readied(whole, PULLS), PULLS, "CA")[0]["A"].wedges is not None


def test_cores_grow_with_the_wall(plugged: dict[str, LatticeSolid]) -> None:
    """A and B lean into C over its plug and under it; the core of A reaches the wall and lies flat on it, and
    all three close.
    """
    leaning, taken = with_room(readied(plugged, AROUND), AROUND, "CAB")
    poured = {letter: stand_up(one, taken[letter]) for letter, one in leaning.items()}
    assert poured["A"].given_by == poured["B"].given_by == ("C",)
    (core,) = poured["A"].cores
    assert core.axis == pytest.approx(
        (0.0, math.cos(math.radians(2.0)), math.sin(math.radians(2.0))), abs=1e-3
    )
    for one in poured.values():
        assert failed(one) == []
    assert [check.ok for check in closing_checks([poured[k] for k in "CAB"], AROUND)] == [True, True]
    short = replace(core, solid=stand_up(readied(plugged, AROUND)["A"]).cores[0].solid)
    assert core.solid.volume_mm3 > short.solid.volume_mm3 + 1.0


@pytest.mark.parametrize("scale", [1.0, 1.0 / 1.0005])
def test_a_core_that_flares_shallowly_at_the_wall_leaves_with_its_piece(scale: float) -> None:
    """The plug of C widens by 2 mm over its last 0.2 mm, so that a slice of a hundredth of a mm narrows it by
    0.1 mm: neither C nor the core of A is left with a ledge of that at the wall. 1 / 1.0005 is the size of a
    print for a case of hard cement.

    Source: geometry; what widens along the whole of a pull leaves along it.
    """
    stem = manifold3d.Manifold.cylinder(20.0, 12.0, 12.0, 96)
    flare = manifold3d.Manifold.cylinder(0.2, 14.0, 12.0, 96)
    plug = (stem + flare).rotate((-90.0, 0.0, 0.0)).translate((0.0, 0.0, 16.0))
    solids = {
        "A": on_lattice(box((-50.0, 0.0, 0.0), (50.0, 60.0, 40.0)) - plug),
        "B": on_lattice(box((-50.0, 0.0, -40.0), (50.0, 60.0, 0.0)) - plug),
        "C": on_lattice(box((-50.0, -25.0, -40.0), (50.0, 0.0, 40.0)) + plug),
    }
    leaning, taken = with_room(readied(solids, AROUND, scale=scale), AROUND, "CAB")
    assert leaning["A"].given_by == ("C",) and len(leaning["A"].cores) == 1
    stood = {letter: stand_up(one, taken[letter]) for letter, one in leaning.items()}
    checks = closing_checks([stood[letter] for letter in "CAB"], AROUND)
    for poured in stood.values():
        checks += [*loose_checks(poured), *cement_checks(build_cement_case(poured, 40.0))]
    assert [(check.id, check.measured) for check in checks if not check.ok] == []


def test_the_later_piece_leans_where_two_would() -> None:
    """At a corner of three pieces A leans into C and D, and D into C: what both would take goes to A, which
    opens last, and all close.
    """
    low, tall = -20.0, 40.0
    main = box((-40.0, -40.0, 0.0), (0.0, 0.0, tall))
    second = box((0.0, -40.0, low), (30.0, 0.0, tall))
    first = box((-40.0, 0.0, low), (30.0, 30.0, tall))
    below = box((-40.0, -40.0, low), (0.0, 0.0, 0.0))
    pulls = {"A": (0.0, 0.0, 1.0), "B": (0.0, 0.0, -1.0), "C": (0.0, 1.0, 0.0), "D": (1.0, 0.0, 0.0)}
    solids = {name: on_lattice(one) for name, one in zip("ABCD", (main, below, first, second), strict=True)}
    leaning, taken = with_room(readied(solids, pulls), pulls, "CDAB")
    poured = {letter: stand_up(one, taken[letter]) for letter, one in leaning.items()}
    assert poured["A"].given_by == ("C", "D") and poured["D"].given_by == ("C",)
    assert [check.ok for check in closing_checks([poured[k] for k in "CDAB"], pulls)] == [True] * 3
    for one in poured.values():
        assert failed(one) == []
        assert one.leaning_share == pytest.approx(1.0, abs=5e-3)


def test_keys_keep_their_clearance_in_the_wall(stood: dict[str, Poured]) -> None:
    """The loose key is wider at the leaning wall than at its old mouth, by no more than the clearance."""
    (plug,) = stood["A"].plugs
    far = np.linalg.norm(np.delete(plug.points_mm - plug.at_mm, 0, axis=1) * (1.0, 1.0), axis=1)
    assert RADIUS_MM < float(far.max()) < RADIUS_MM + 0.25 + 0.05
    cone_mm3 = float(manifold3d.Manifold.hull_points(plug.points_mm).volume())
    frustum_mm3 = math.pi * 8.0 / 3.0 * (10.0**2 + 10.0 * 6.0 + 6.0**2)
    assert cone_mm3 == pytest.approx(frustum_mm3 + math.pi * RADIUS_MM**2 * LEAN * HIGH_MM, rel=0.03)
