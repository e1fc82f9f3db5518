"""Release, shared space, tongues and exact files, against solids whose answer is known."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from claybed.geometry import clearance, stacking
from claybed.geometry.clearance import least_clearance_sign, lock_along
from claybed.geometry.lattice import UNITS_PER_MM, Lattice
from claybed.geometry.mesh import Mesh, Origin
from claybed.geometry.nearness import largest_distance_mm
from claybed.geometry.plan_bins import bin_triangles
from claybed.geometry.slab import LatticeSolid
from claybed.geometry.stacking import stack
from claybed.geometry.stl import read_stl, stl_bytes
from claybed.geometry.tongues import grey_closing, narrowest_tongue

UP, DOWN = (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)
BOX_FACES = np.array(
    [[0, 2, 1], [1, 2, 3], [4, 5, 6], [5, 7, 6], [0, 1, 4], [1, 5, 4], [2, 6, 3], [3, 6, 7], [0, 4, 2],
     [2, 4, 6], [1, 3, 5], [3, 7, 5]]
)  # fmt: skip


def box(lo_mm: Sequence[float], hi_mm: Sequence[float]) -> LatticeSolid:
    """A box between two corners, mm."""
    ends = np.rint(np.array([lo_mm, hi_mm]) * UNITS_PER_MM).astype(np.int64)
    corners = np.array([[ends[x, 0], ends[y, 1], ends[z, 2]] for z in (0, 1) for y in (0, 1) for x in (0, 1)])
    return LatticeSolid(corners, BOX_FACES.astype(np.int32), np.full(12, int(Origin.OBJECT), np.uint8))


def joined(*solids: LatticeSolid) -> LatticeSolid:
    """Several solids in one record, side by side."""
    starts = np.cumsum([0, *(len(s.points) for s in solids[:-1])])
    return LatticeSolid(
        np.concatenate([s.points for s in solids]),
        np.concatenate([s.faces + k for s, k in zip(solids, starts, strict=True)]).astype(np.int32),
        np.concatenate([s.origin for s in solids]),
    )


def least_by_fractions(a: list[int], za: list[int], b: list[int], zb: list[int]) -> Fraction | None:
    """The least of a over b by clipping in fractions, a second way to the answer; None for no common area."""
    ring = [(Fraction(a[2 * k]), Fraction(a[2 * k + 1])) for k in range(3)]
    for k in range(3):
        x0, y0, x1, y1 = b[2 * k], b[2 * k + 1], b[(2 * k + 2) % 6], b[(2 * k + 3) % 6]
        side = [(x1 - x0) * (y - y0) - (y1 - y0) * (x - x0) for x, y in ring]
        kept = []
        for i, (p, q) in enumerate(zip(ring, [*ring[1:], *ring[:1]], strict=True)):
            s, t = side[i], side[(i + 1) % len(ring)]
            if s >= 0:
                kept.append(p)
            if s * t < 0:
                kept.append((p[0] + s / (s - t) * (q[0] - p[0]), p[1] + s / (s - t) * (q[1] - p[1])))
        ring = kept
        if not ring:
            return None
    doubled = sum(p[0] * q[1] - p[1] * q[0] for p, q in zip(ring, [*ring[1:], *ring[:1]], strict=True))
    if doubled == 0:
        return None
    return min(plane(a, za, x, y) - plane(b, zb, x, y) for x, y in ring)


def plane(t: list[int], z: list[int], x: Fraction, y: Fraction) -> Fraction:
    """Height of a triangle's plane over a plan point."""
    ux, uy, vx, vy = t[2] - t[0], t[3] - t[1], t[4] - t[0], t[5] - t[1]
    area = ux * vy - uy * vx
    s = (x - t[0]) * vy - (y - t[1]) * vx
    r = ux * (y - t[1]) - uy * (x - t[0])
    return z[0] + (s * (z[1] - z[0]) + r * (z[2] - z[0])) / Fraction(area)


def triangle(reach: int) -> st.SearchStrategy[tuple[list[int], list[int]]]:
    """Counter-clockwise plan triangles with heights, whole numbers up to `reach`."""
    numbers = st.integers(0, reach)

    def turned(raw: list[int]) -> tuple[list[int], list[int]]:
        x0, y0, x1, y1, x2, y2, *z = raw
        if (x1 - x0) * (y2 - y0) - (y1 - y0) * (x2 - x0) < 0:
            x1, y1, x2, y2 = x2, y2, x1, y1
        return [x0, y0, x1, y1, x2, y2], z

    flat = st.lists(numbers, min_size=9, max_size=9).map(turned)
    return flat.filter(
        lambda t: (t[0][2] - t[0][0]) * (t[0][5] - t[0][1]) != (t[0][3] - t[0][1]) * (t[0][4] - t[0][0])
    )


@settings(max_examples=400)
@given(triangle(6), triangle(6), st.sampled_from([1, 97, 1 << 19]))
def test_a_pair_of_faces_is_judged_as_by_fractions(
    one: tuple[list[int], list[int]], two: tuple[list[int], list[int]], scale: int
) -> None:
    """Compiled and unbounded integers tell whether a face lies below another as exact clipping does."""
    a, za, b, zb = (np.array(v, np.int64) * scale for v in (*one, *two))
    exact = least_by_fractions(*one, *two)
    wanted = exact is not None and exact < 0
    assert (least_clearance_sign(a, za, b, zb) < 0) == wanted
    pairs, large = np.empty((4, 2), np.int64), np.empty((4, 2), np.int64)
    bins = bin_triangles(b[None])
    found = clearance._locked_pairs(a[None], za[None], b[None], zb[None], *bins, pairs, large, 9e18)
    by_hand = found[1] and least_clearance_sign(a, za, b, zb) < 0
    assert bool(found[0] or by_hand) == wanted


@settings(max_examples=60)
@given(st.lists(triangle(40), min_size=1, max_size=25), st.lists(triangle(40), min_size=1, max_size=25))
def test_no_pair_is_missed_or_found_twice(
    movers: list[tuple[list[int], list[int]]], others: list[tuple[list[int], list[int]]]
) -> None:
    """Sorting into cells finds each pair in the way exactly once, whatever cells the faces span."""
    a, b = (np.array([t[0] for t in side], np.int64) for side in (movers, others))
    za, zb = (np.array([t[1] for t in side], np.int64) for side in (movers, others))
    found = clearance.crossing_pairs(a, za, b, zb)
    wanted = [
        [i, j]
        for i in range(len(a))
        for j in range(len(b))
        if (least_by_fractions(*movers[i], *others[j]) or Fraction(0)) < 0
    ]
    assert sorted(found.tolist()) == wanted


def test_faces_too_large_for_64_bits_are_still_exact(monkeypatch: pytest.MonkeyPatch) -> None:
    """With no room in 64 bits every pair goes to unbounded integers, and the answer stays the same."""
    mover, obstacle = box((0, 0, 5), (20, 20, 15)), box((18, 0, 12), (40, 20, 30))
    before = lock_along(mover, [obstacle], UP)
    monkeypatch.setattr(clearance, "INT64_ROOM", 0.0)
    assert lock_along(mover, [obstacle], UP) == before
    assert before.pairs > 0


def test_how_far_a_ledge_reaches_over() -> None:
    """A ledge 2 mm over a box locks it sideways by 2 mm, where the ledge is; from below it does not."""
    mover = box((0, 0, 0), (20, 30, 10))
    lock = lock_along(mover, [box((18, 0, 12), (40, 30, 20))], UP)
    assert lock.lateral_mm == pytest.approx(2.0, abs=0.01)
    assert lock.height_mm == pytest.approx(20.0)
    assert lock.at_mm is not None
    assert 18.0 <= lock.at_mm[0] <= 20.0
    assert lock_along(mover, [box((18, 0, -9), (40, 30, 0))], UP).pairs == 0
    assert lock_along(mover, [box((18, 0, -9), (40, 30, 0))], DOWN).lateral_mm == pytest.approx(2.0, abs=0.01)


def test_touching_is_not_locking() -> None:
    """Walls that slide and faces that rest on each other leave freely; one lattice step more does not."""
    mover = box((0, 0, 0), (20, 30, 10))
    resting = [box((0, 0, -5), (20, 30, 0)), box((20, 0, -5), (40, 30, 40))]
    assert lock_along(mover, resting, UP).pairs == 0
    step = 1.0 / 1024.0
    lock = lock_along(mover, [box((20 - step, 0, -5), (40, 30, 40))], UP)
    assert lock.pairs > 0
    assert 0.0 < lock.lateral_mm < 0.002


def test_other_pulls_are_refused() -> None:
    """A pull across the lattice is refused rather than rounded."""
    with pytest.raises(ValueError, match="along z"):
        lock_along(box((0, 0, 0), (1, 1, 1)), [], (1.0, 0.0, 0.0))


FOOTPRINT: Lattice = np.array([[0, 0], [40, 0], [40, 30], [0, 30]], np.int64) * 1024


def test_lines_under_wide_slanting_faces_are_not_missed() -> None:
    """A solid whose lid is a fan of long thin faces is met by every line over it, going in and coming out."""
    turn = np.linspace(0.0, 2.0 * np.pi, 60, endpoint=False)
    rim = np.rint(np.stack([19.0 + 18.0 * np.cos(turn), 15.0 + 14.0 * np.sin(turn)], axis=1) * 1024).astype(
        int
    )
    low, high = (np.concatenate([rim, np.full((60, 1), z * 4096)], axis=1) for z in (0, 9))
    tips = np.array([[30 * 1024, 12 * 1024, 0], [30 * 1024, 12 * 1024, 9 * 4096]])
    i, j = np.arange(60), np.roll(np.arange(60), -1)
    a, b = np.full(60, 120), np.full(60, 121)
    faces = [(a, j, i), (b, i + 60, j + 60), (i, j, j + 60), (i, j + 60, i + 60)]
    fan = LatticeSolid(
        np.concatenate([low, high, tips]),
        np.concatenate([np.stack(f, axis=1) for f in faces]).astype(np.int32),
        np.zeros(240, np.uint8),
    )
    assert stack([fan, box((0, 0, 8), (40, 30, 12))], FOOTPRINT, lines=5000).overlap_mm == pytest.approx(1.0)
    points, bins = stacking._bin_lines(
        stacking._spread(FOOTPRINT, 5000),
        FOOTPRINT.min(axis=0) * stacking.FINER,
        FOOTPRINT.max(axis=0) * stacking.FINER,
    )
    line, _, step = stacking._hits(fan, points, bins)
    ring = shapely.Polygon(rim)
    inside = shapely.contains_xy(ring, points[:, 0] / stacking.FINER, points[:, 1] / stacking.FINER)
    assert np.array_equal(np.unique(line), np.flatnonzero(inside))
    assert (np.bincount(line) == 2 * inside[: line.max() + 1]).all()
    assert step.sum() == 0


def test_shared_space_along_lines() -> None:
    """Lines measure how far two boxes overlap and where; boxes that touch or stand apart share nothing."""
    low = box((0, 0, 0), (40, 30, 10))
    found = stack([low, box((0, 0, 10), (40, 30, 20))], FOOTPRINT, lines=2000)
    assert found.overlap_mm == 0.0
    assert found.lines == pytest.approx(2000, rel=0.02)
    found = stack([low, box((30, 0, 7), (40, 30, 20))], FOOTPRINT, lines=2000)
    assert found.overlap_mm == pytest.approx(3.0)
    assert found.at_mm[0] > 30.0
    assert stack([low, box((0, 0, 14), (40, 30, 20))], FOOTPRINT, lines=2000).overlap_mm == 0.0
    # A corner region of 2 mm by 2 mm is 1 part in 300 of the plan: about 7 of 2000 lines meet it.
    corner = box((38, 28, 9.5), (40, 30, 20))
    assert stack([low, corner], FOOTPRINT, lines=2000).overlap_mm == pytest.approx(0.5)


def test_a_file_holds_the_solid_without_loss() -> None:
    """Written and read back, a solid has the same corners, faces and volume, to the last lattice step."""
    solid = box((-123.4567, 1.001, 0.0), (987.654, 333.333, 77.0001))
    data = stl_bytes(solid)
    back, off_mm = read_stl(data)
    assert off_mm == 0.0
    assert back.six_volumes == solid.six_volumes
    assert len(back.points) == 8
    assert np.array_equal(back.points[back.faces], solid.points[solid.faces])
    assert stl_bytes(back) == data
    row = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
    written = np.frombuffer(data, row, offset=84)
    side = np.diff(written["corners"].astype(np.float64), axis=1)
    across = np.cross(side[:, 0], side[:, 1])
    assert written["normal"] == pytest.approx(across / np.linalg.norm(across, axis=1)[:, None], abs=1e-6)


def test_damaged_and_rewritten_files_are_noticed() -> None:
    """A file cut short is refused; a coordinate off the lattice is measured."""
    data = stl_bytes(box((0, 0, 0), (10, 10, 10)))
    for bad in (data[:-1], data[:70], data + b"x"):
        with pytest.raises(ValueError, match="binary STL"):
            read_stl(bad)
    moved = bytearray(data)
    moved[96:100] = np.float32(0.0003).tobytes()
    assert read_stl(bytes(moved))[1] == pytest.approx(0.0003, rel=1e-3)
    with pytest.raises(ValueError, match="solid"):
        stl_bytes(box((0, 0, 0), (1, 1, 1)), title="Solid box")


def test_closing_fills_what_a_disk_cannot_enter() -> None:
    """Closing by a disk equals its definition pixel by pixel, and fills only grooves narrower than it."""
    field = np.random.default_rng(5).normal(size=(23, 31))
    radius = 3.3
    reach = 3
    disk = [
        (j, i)
        for j in range(-reach, reach + 1)
        for i in range(-reach, reach + 1)
        if j * j + i * i <= radius**2
    ]
    wide = np.pad(field, 2 * reach, constant_values=-np.inf)
    high = np.max([np.roll(wide, at, axis=(0, 1)) for at in disk], axis=0)
    low = np.min([np.roll(high, at, axis=(0, 1)) for at in disk], axis=0)
    assert np.array_equal(grey_closing(field, radius), low[2 * reach : -2 * reach, 2 * reach : -2 * reach])
    groove = np.full((40, 40), 10.0)
    groove[:, 18:22] = 0.0
    assert grey_closing(groove, 2.6)[20, 20] == 10.0
    assert grey_closing(groove, 1.4)[20, 20] == 0.0


def comb(gap_mm: float, deep_mm: float) -> LatticeSolid:
    """A plate whose underside hangs down in one bar `gap_mm` wide and `deep_mm` tall, away from its sides."""
    half = gap_mm / 2.0
    return joined(
        box((-60, -40, 0), (-30, 40, 40)),
        box((30, -40, 0), (60, 40, 40)),
        box((-30, -40, deep_mm), (-half, 40, 40)),
        box((half, -40, deep_mm), (30, 40, 40)),
        box((-half, -40, 0), (half, 40, 40)),
    )


@pytest.mark.parametrize(
    ("gap_mm", "deep_mm", "seen"), [(2.0, 12.0, True), (5.0, 25.0, True), (5.0, 9.0, False)]
)
def test_tongues_by_width_and_height(gap_mm: float, deep_mm: float, seen: bool) -> None:
    """A bar of plaster is found when over twice as tall as wide, its width to a third of a millimetre."""
    found = narrowest_tongue(comb(gap_mm, deep_mm), UP, slender_ratio=2.0)
    assert (found.at_mm is not None) == seen
    if seen and found.at_mm:
        assert found.width_mm == pytest.approx(gap_mm, abs=0.35)
        assert found.height_mm == pytest.approx(deep_mm, abs=0.1)
        assert abs(found.at_mm[0]) <= gap_mm / 2.0
        assert found.at_mm[2] == pytest.approx(0.0, abs=0.01)
    else:
        assert found.width_mm == found.sought_mm


def fin(
    foot_mm: float, tip_mm: float, tall_mm: float, *, lean_mm: float = 0.0, half_long_mm: float = 10.0
) -> LatticeSolid:
    """A fin that hangs down to z = 0, with its tip `lean_mm` off the middle of its root."""
    upright = box((-1, -half_long_mm, 0), (1, half_long_mm, tall_mm))
    corners = upright.points.astype(float) / UNITS_PER_MM
    corners[:4, 0] = corners[:4, 0] * tip_mm / 2.0 + lean_mm
    corners[4:, 0] *= foot_mm / 2.0
    points = np.rint(corners * UNITS_PER_MM).astype(np.int64)
    return LatticeSolid(points, upright.faces, upright.origin)


def hung(*parts: LatticeSolid, at_mm: float = 20.0) -> LatticeSolid:
    """What hangs from the underside of a plate, well inside the rim of a block."""
    rim = box((-60, -40, 0), (-30, 40, at_mm)), box((30, -40, 0), (60, 40, at_mm))
    return joined(*parts, *rim, box((-60, -40, at_mm), (60, 40, at_mm + 20.0)))


@pytest.mark.parametrize("leans", [False, True])
@pytest.mark.parametrize(("angle_deg", "seen"), [(15.0, True), (20.0, True), (25.0, True), (31.0, False)])
def test_a_flake_that_runs_out_to_an_edge(angle_deg: float, seen: bool, leans: bool) -> None:
    """A wedge of full angle a is twice as tall as wide at every level up to tan (a/2) = 1/4, 28 degrees; one
    face may be plumb, so that it leans by half of it.
    """
    tall_mm, foot_mm = 20.0, 40.0 * np.tan(np.radians(angle_deg / 2.0))
    lean_mm = foot_mm / 2.0 if leans else 0.0
    found = narrowest_tongue(hung(fin(foot_mm, 0.02, tall_mm, lean_mm=lean_mm)), UP, slender_ratio=2.0)
    assert (found.at_mm is not None) == seen
    if found.at_mm is not None:
        assert found.width_mm < 2.0
        assert found.at_mm[2] == pytest.approx(0.0, abs=0.5)
        assert abs(found.at_mm[0] - lean_mm) < 0.5


@pytest.mark.parametrize("crumb_mm3", [20.0, 50.0])
def test_a_flake_is_measured_where_more_than_a_crumb_breaks_off(crumb_mm3: float) -> None:
    """Down to depth d a wedge 10 mm long, one in six at its edge, holds 10 d²/12 and is d/6 wide there."""
    wedge_mm = hung(fin(20.0 / 6.0, 0.02, 20.0, half_long_mm=5.0))
    found = narrowest_tongue(wedge_mm, UP, slender_ratio=2.0, crumb_mm3=crumb_mm3)
    least_mm = np.sqrt(12.0 * crumb_mm3 / 10.0) / 6.0
    # Levels are an eighth of the height apart that the disk bridges: a third of a millimetre of width.
    assert least_mm - 0.15 <= found.width_mm <= least_mm + 0.5
    assert narrowest_tongue(wedge_mm, UP, slender_ratio=2.0, crumb_mm3=400.0).at_mm is None


def test_a_flake_beside_a_wall_of_plaster() -> None:
    """What stands across a gap holds no flake up; what it grows out of does, as far as it is wide twice."""
    leaf = box((-0.8, -5, 0), (0.8, 5, 20))
    near = box((1.8, -20, 0), (20, 20, 20))
    assert narrowest_tongue(hung(leaf, near), UP, slender_ratio=2.0).width_mm == pytest.approx(1.6, abs=0.2)
    for long_mm, seen in ((2.5, False), (8.0, True)):
        grown = hung(box((-0.8, -long_mm, 0), (0.8, 0, 20)), box((-20, 0, 0), (20, 20, 20)))
        assert (narrowest_tongue(grown, UP, slender_ratio=2.0).at_mm is not None) == seen


def test_a_square_inner_corner_is_no_tongue() -> None:
    """Plaster that fills a right angle in plan stands on its own, however tall it is."""
    corner = joined(
        box((-60, -60, 0), (0, 60, 60)), box((0, -60, 0), (60, 0, 60)), box((0, 0, 50), (60, 60, 60))
    )
    assert narrowest_tongue(corner, UP, slender_ratio=2.0).at_mm is None


def test_a_pin_is_found_from_either_side() -> None:
    """A pin of plaster 2 mm thick is found when its piece leaves upwards, and mirrored downwards."""
    parts = [((-60, -40, 20), (60, 40, 40)), ((-1, -1, 4), (1, 1, 20)), ((-60, -40, 4), (-40, 40, 20))]
    pin = joined(*(box(lo, hi) for lo, hi in parts))
    found = narrowest_tongue(pin, UP, slender_ratio=2.0)
    assert found.at_mm is not None
    assert found.at_mm[2] == pytest.approx(4.0)
    flipped = joined(*(box((*lo[:2], -hi[2]), (*hi[:2], -lo[2])) for lo, hi in parts))
    other = narrowest_tongue(flipped, DOWN, slender_ratio=2.0)
    assert other.at_mm is not None
    assert other.at_mm[2] == pytest.approx(-4.0)
    assert other.width_mm == pytest.approx(found.width_mm, abs=0.05)
    assert narrowest_tongue(pin, DOWN, slender_ratio=2.0).at_mm is None


def test_distance_from_a_surface() -> None:
    """The farthest of several points is named with its distance from a triangle."""
    flat = Mesh.make(np.array([[0.0, 0, 0], [10, 0, 0], [0, 10, 0]]), np.array([[0, 1, 2]]), frame="block")
    points = np.array([[1.0, 1.0, 0.5], [2.0, 2.0, -2.5], [-3.0, 0.0, 0.0]])
    distance_mm, which = largest_distance_mm(points, flat)
    assert distance_mm == pytest.approx(3.0)
    assert which == 2
    assert largest_distance_mm(points[:0], flat) == (0.0, -1)
