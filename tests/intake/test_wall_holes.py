"""Holes through a vessel's wall: closed flush, told with size and place; what is no hole of a wall stays.

Vessels with and without their holes are built by another library (manifold3d), so that the closed one has a
known outside and inside; bores are told by closed forms of prisms and frustums of regular polygons.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

import manifold3d
import numpy as np
import pytest

from claybed.errors import InputError
from claybed.geometry.mesh import Mesh, Origin
from claybed.intake.hollow import hollow_findings
from claybed.intake.mouth import Closed, close_mouth
from claybed.intake.skin import Skin
from tests.pieces import solids

UP = (0.0, 0.0, 1.0)
Solid = manifold3d.Manifold
AROUND = 96
CUP = [(0, 0), (40, 0), (40, 90), (36, 90), (36, 5), (0, 5)]
FOOTED = [(0, 10), (28, 10), (28, 0), (33, 0), (40, 90), (36, 90), (29.5, 14), (0, 14)]


def turned(profile: list[tuple[float, float]]) -> Solid:
    """A solid of revolution about z."""
    return solids.to_manifold(solids.revolved(np.array(profile, float), sides=AROUND))


def drill(radius_mm: float, height_mm: float, turn_deg: float, *, sides: int = 48) -> Solid:
    """A level drill from inside outwards."""
    level = Solid.cylinder(60.0, radius_mm, radius_mm, sides).rotate([0, 90, 0])
    return level.translate([10, 0, height_mm]).rotate([0, 0, turn_deg])


def less(solid: Solid, away: Iterable[Solid]) -> Solid:
    """A solid without others."""
    for one in away:
        solid = solid - one
    return solid


def ring_handle(x_mm: float, z_mm: float, big_mm: float, cut_mm: float) -> Solid:
    """A round handle beside a vessel of radius `cut_mm`."""
    ring = solids.to_manifold(solids.torus(big_mm, 5.0, around=64, sides=24))
    return ring.rotate([90, 0, 0]).translate([x_mm, 0, z_mm]) - Solid.cylinder(300, cut_mm, cut_mm, AROUND)


def flat_handle() -> Solid:
    """A slab beside a cup with a finger hole through it: a bore with two rims, and no hole of a wall."""
    slab = Solid.cube([40, 10, 50], True).translate([55, 0, 50])
    finger = Solid.cylinder(40, 10, 10, 48, True).rotate([90, 0, 0]).translate([57, 0, 50])
    return slab - finger - Solid.cylinder(200, 38, 38, AROUND)


def stirrup() -> Solid:
    """A handle over a cup from one side to the other, clear of its rim."""
    arch = solids.to_manifold(solids.torus(48.0, 4.0, around=64, sides=24)).rotate([90, 0, 0])
    arch = arch.scale([1, 1, 2]).trim_by_plane([0, 0, 1], 0.0).translate([0, 0, 60])
    feet = Solid.cube([104, 8, 10], True).translate([0, 0, 60]) - Solid.cylinder(200, 38, 38, AROUND)
    return arch + feet


def closed(solid: Solid, *, holes: bool = True, up: tuple[float, float, float] = UP) -> Closed:
    """A solid closed at its mouth."""
    mesh = solids.from_manifold(solid)
    return close_mouth(skin_of(mesh), up, "vessel", holes=holes)


def skin_of(mesh: Mesh) -> Skin:
    """A mesh as intake has it."""
    return Skin.of(np.array(mesh.vertices_mm), mesh.faces.astype(np.int64))


def rings_through(skin: Skin) -> int:
    """Holes through a closed surface, by Euler."""
    edges = {tuple(sorted(side)) for f in skin.faces.tolist() for side in zip(f, f[1:] + f[:1], strict=True)}
    return (2 - (len(np.unique(skin.faces)) - len(edges) + len(skin.faces))) // 2


def prism_ml(radius_mm: float, high_mm: float, depth_mm: float, sides: int) -> float:
    """A frustum between two regular polygons of circumradius `radius_mm` and `high_mm`."""
    wedge = 0.5 * sides * np.sin(2 * np.pi / sides)
    return float(wedge * depth_mm * (radius_mm**2 + radius_mm * high_mm + high_mm**2) / 3000.0)


@pytest.mark.parametrize(("low", "high"), [(6.0, 6.0), (6.0, 9.0), (9.0, 6.0)])
def test_a_drain_hole_is_closed_flush_in_floor_and_foot(low: float, high: float) -> None:
    """Closed is as if never drilled, to the last digit; what fills it is a frustum of 48 sides, and the hole
    is as wide as its narrow end.
    """
    pot = turned(FOOTED)
    found = closed(pot - Solid.cylinder(4.0, low, high, 48).translate([0, 0, 10]))
    whole = closed(pot)
    assert found.skin.mesh().volume_mm3 == pytest.approx(whole.skin.mesh().volume_mm3, rel=1e-12)
    assert found.reading.closed_ml == pytest.approx(whole.reading.closed_ml, rel=1e-12)
    (hole,) = found.holes
    assert hole.volume_ml == pytest.approx(prism_ml(low, high, 4.0, 48), rel=1e-9)
    assert hole.depth_mm == pytest.approx(4.0)
    assert hole.width_mm == pytest.approx(12.0, rel=3e-3)
    assert hole.at_mm == pytest.approx((0.0, 0.0, 10.0), abs=1e-9)
    assert hole.out == pytest.approx((0.0, 0.0, -1.0))
    assert (hole.mark, hole.where) == ("a", "in the floor, in the middle")


def test_holes_in_a_bent_wall_are_closed_along_it() -> None:
    """Over a hole of 10 mm in a wall of 40 mm the surface stays within the facets of the wall; a flat lid
    would lie 0.31 mm inside it, by 40 - sqrt(40^2 - 5^2).
    """
    cup = turned(CUP)
    found = closed(less(cup, [drill(5.0, 45.0, turn) for turn in (10, 100, 190, 280)]))
    assert found.skin.mesh().volume_mm3 == pytest.approx(closed(cup).skin.mesh().volume_mm3, rel=2e-5)
    assert [hole.mark for hole in found.holes] == ["a", "b", "c", "d"]
    assert [hole.where for hole in found.holes] == ["in the wall, 45 mm above the foot"] * 4
    turns = {int(hole.turned.partition("°")[0]) for hole in found.holes[1:]}
    assert turns == {90, 180, 270}
    lids = found.skin.vertices[np.unique(found.skin.faces[found.skin.origin == int(Origin.MEND)])]
    reach = np.hypot(lids[:, 0], lids[:, 1])
    facet = 40.0 * np.cos(np.pi / AROUND)
    assert len(lids) > 4 * 48
    assert reach.min() > facet - 0.03 and reach.max() < 40.0 + 0.03
    # A round bore of radius r through a wall between R and R - w, nearly pi r^2 w.
    assert sum(hole.volume_ml for hole in found.holes) == pytest.approx(
        4 * np.pi * 25.0 * 4.0 / 1000.0, rel=0.01
    )


def test_slots_are_told_by_both_widths() -> None:
    """A slot of 8 by 24 mm with round ends keeps its two widths, and its area is that of a stadium."""
    ends = [Solid.cylinder(60, 4, 4, 32).rotate([0, 90, 0]).translate([0, y, 0]) for y in (-8, 8)]
    slot = (ends[0] + ends[1] + Solid.cube([60, 16, 8]).translate([0, -8, -4])).translate([10, 0, 50])
    (hole,) = closed(turned(CUP) - slot).holes
    assert (hole.width_mm, hole.length_mm) == pytest.approx((8.0, 24.0), rel=2e-3)
    assert hole.area_mm2 == pytest.approx(16 * 8 + np.pi * 16, rel=0.01)


@pytest.mark.parametrize("steps", [2, 6, 12])
def test_rounded_rims_are_closed_to_the_wall(steps: int) -> None:
    """With both rims rounded by 2 mm the hole is closed to within 0.1 mm of the face round it."""
    angle = np.linspace(0, np.pi / 2, steps + 1)
    low = [(8 - 2 * np.sin(t), 2 - 2 * np.cos(t)) for t in angle]
    high = [(8 - 2 * np.cos(t), 4 + 2 * np.sin(t)) for t in angle]
    profile = [(40, 90), (36, 90), (30, 6), *high[::-1], *low[::-1], (33, 0)]
    found = closed(turned(profile))
    whole = closed(turned([(40, 90), (36, 90), (30, 6), (0, 6), (0, 0), (33, 0)]))
    missing_mm3 = whole.skin.mesh().volume_mm3 - found.skin.mesh().volume_mm3
    assert 0.0 <= missing_mm3 < 0.1 * np.pi * 8.0**2
    assert len(found.holes) == 1


def test_holes_through_a_foot_ring_are_holes_too() -> None:
    """Two holes through the ring under the foot lead out of the hollow there, beside the drain hole."""
    foot = turned(FOOTED)
    found = closed(less(foot, [drill(2.5, 5.0, 30), drill(2.5, 5.0, 75), Solid.cylinder(60, 5, 5, 48, True)]))
    assert [round(hole.width_mm) for hole in found.holes] == [5, 5, 10]
    assert rings_through(found.skin) == 0
    whole_mm3 = closed(foot).skin.mesh().volume_mm3
    assert found.skin.mesh().volume_mm3 == pytest.approx(whole_mm3, rel=1e-5)


@pytest.mark.parametrize("handle", ["ring", "flat", "basket"])
def test_a_handle_is_never_closed(handle: str) -> None:
    """With a drain hole to close, the one hole through the closed solid that stays is the handle's."""
    beside = {"ring": lambda: ring_handle(42, 48, 22, 38), "flat": flat_handle, "basket": stirrup}[handle]()
    mug = turned(CUP) + beside
    assert closed(mug).holes == ()
    assert rings_through(closed(mug).skin) == 1
    found = closed(mug - Solid.cylinder(20, 5, 5, 48, True))
    assert [hole.where for hole in found.holes] == ["in the floor, in the middle"]
    assert rings_through(found.skin) == 1
    assert found.skin.mesh().volume_mm3 == pytest.approx(closed(mug).skin.mesh().volume_mm3, rel=1e-9)


@pytest.mark.parametrize(
    "ring",
    [
        solids.torus(40, 10, around=64, sides=24),
        solids.from_manifold(Solid.cylinder(10, 40, 40, 64) - Solid.cylinder(30, 10, 10, 64, True)),
    ],
)
def test_a_ring_is_no_vessel(ring: Mesh) -> None:
    """Closing the hole of a ring or a washer makes no inside, so that nothing is closed."""
    with pytest.raises(InputError, match="no opening to close"):
        close_mouth(skin_of(ring), UP, "ring", holes=True)
    assert hollow_findings(ring, UP) == ()


@pytest.mark.parametrize("cord", [drill(5.0, 15.0, 0), Solid.cylinder(20, 6, 6, 48, True)])
def test_a_neck_is_the_mouth_and_no_hole(cord: Solid) -> None:
    """A lamp base keeps its neck open, a bore narrower than half its belly, and its cord hole is closed."""
    profile = [(0, 0), (40, 0), (40, 100), (12, 130), (12, 160), (8, 160), (8, 128.3), (36, 98.3), (36, 5)]
    base = turned([*profile, (0, 5)])
    found = closed(base - cord)
    assert len(found.holes) == 1
    assert found.reading.brim_mm == pytest.approx(160.0)
    assert found.reading.closed_ml == pytest.approx(closed(base).reading.closed_ml, rel=1e-4)


def test_a_teapot_keeps_handle_and_strainer() -> None:
    """The holes of a strainer lead from one inside into another: the spout is closed at its tip instead, and
    the handle stays.
    """
    outside = turned([(0, 0), (35, 0), (60, 40), (40, 80), (0, 80)])
    inside = turned([(0, 5), (32, 5), (55.5, 40), (36, 80), (36, 81), (0, 81)])
    strainer = turned([(0, 2), (34, 2), (58, 40), (38, 81), (0, 81)])
    spout = Solid.cylinder(75, 12, 7, 48).rotate([0, 45, 0]).translate([35, 0, 30])
    bore = Solid.cylinder(90, 9.2, 4, 48).rotate([0, 45, 0]).translate([35, 0, 30]) - strainer
    pot = outside + spout + ring_handle(-62, 42, 20, 35) - inside - bore
    holes = [
        Solid.cylinder(10, 1.5, 1.5, 16, True)
        .rotate([0, 63.4, 0])
        .translate([53.5 - 0.447 * t, y, 49 + 0.894 * t])
        for y in (-3, 3)
        for t in (-3, 3)
    ]
    found = closed(less(pot, holes))
    (tip,) = found.holes
    assert tip.at_mm[0] > 80.0 and tip.depth_mm == 0.0
    assert rings_through(found.skin) == 1


def test_a_hump_of_an_inside_is_closed_over_its_drain_hole() -> None:
    """What fills a dish up to its rim is the same with the hole as without, and the hole is told."""
    dish = turned([(0, 0), (30, 0), (60, 30), (56, 30), (28, 4), (0, 4)])
    pierced = skin_of(solids.from_manifold(dish - Solid.cylinder(20, 4, 4, 32, True)))
    with pytest.raises(InputError, match="1 hole through its wall"):
        close_mouth(pierced, UP, "dish", inside=True)
    filled = close_mouth(pierced, UP, "dish", inside=True, holes=True)
    whole = close_mouth(skin_of(solids.from_manifold(dish)), UP, "dish", inside=True)
    assert filled.skin.mesh().volume_mm3 == pytest.approx(whole.skin.mesh().volume_mm3, rel=1e-12)
    assert len(filled.holes) == 1


def test_a_colander_lists_every_hole() -> None:
    """32 holes in two rows and 7 in the floor are all closed; rows are told from the foot up."""
    bowl = turned([(0, 0), (50, 0), (80, 60), (76, 60), (47.5, 4), (0, 4)])
    floor = [
        Solid.cylinder(20, 3, 3, 24, True).translate([20 * np.cos(a), 20 * np.sin(a), 0])
        for a in 2 * np.pi * np.arange(7) / 7
    ]
    rows = [drill(2.5, 20.0 + 15 * k, 22.5 * i + 11 * k, sides=24) for k in (0, 1) for i in range(16)]
    with pytest.raises(InputError, match="39 holes through its wall"):
        closed(less(bowl, [*floor, *rows]), holes=False)
    found = closed(less(bowl, [*floor, *rows]))
    levels = Counter(hole.where for hole in found.holes)
    assert list(levels.values()) == [7, 16, 16]
    assert list(levels)[1:] == ["in the wall, 20 mm above the foot", "in the wall, 35 mm above the foot"]
    assert rings_through(found.skin) == 0
    assert found.skin.mesh().volume_mm3 == pytest.approx(closed(bowl).skin.mesh().volume_mm3, rel=1e-4)


def test_pierced_ware_is_told_where_no_mouth_was_asked_for() -> None:
    """A pot that holds nothing because of its drain hole is told with the option that molds its outside."""
    pot = solids.from_manifold(turned(FOOTED) - Solid.cylinder(60, 5, 5, 48, True))
    (told,) = hollow_findings(pot, UP)
    assert told.id == "pierced_ware"
    assert "10 mm wide, in the floor" in told.says and "--close-holes" in told.remedy
