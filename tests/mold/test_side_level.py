"""The level of a side piece: the best of all heights, where no seam is forbidden."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from claybed.errors import CannotError
from claybed.flow.searching import make_mold
from claybed.flow.side_seams import main_seam_inside_mm, seam_checks
from claybed.flow.sideways import seen_along
from claybed.geometry.barred import Barred
from claybed.geometry.level_lines import level_lines
from claybed.geometry.mesh import Floats, Mesh
from claybed.mold.side_level import BARRED_LEAST_MM, Level, best_level
from claybed.proof.leaving import leaving
from claybed.proof.solidity import solidity, volumes_fill_block
from claybed.records.assembly import Assembly
from claybed.records.brief import KeepOut, KeepOutSpot, Region
from claybed.records.surveyed import MoldOption
from tests.mold.molds import BARE, along
from tests.pieces import solids
from tests.survey.objects import measured

NONE = Barred()
PULL, FOOT = (0.0, 1.0, 0.0), (0.0, 0.0, -1.0)


def found(mesh: Mesh, barred: Barred = NONE, *, filled: Floats | None = None) -> Level:
    """The best level under the upper end of a mesh."""
    end_mm = float(mesh.vertices_mm[:, 2].max())
    level = best_level(
        mesh.vertices_mm, mesh.faces, end_mm=end_mm, depth_mm=12.31, barred=barred, filled=filled
    )
    assert level is not None
    return level


def post() -> Mesh:
    """A post that widens by 1 in 5 from its end at z = 20 down."""
    return solids.frustum(36.0, 28.0, 40.0, sides=96)


def test_a_plain_post_keeps_the_level_next_to_its_end() -> None:
    """Nothing is gained further down a post that widens, so the least of the usual depths stands."""
    assert 20.0 - found(post()).level_mm == pytest.approx(0.31)


def test_it_goes_just_under_a_ball_on_the_wall() -> None:
    """A ball of 4 mm whose middle lies on the wall 3 mm under the end bars what the wall has of it, down to
    its reach along the wall's slope; the level stands next below, and the seam is free.
    """
    wall = 28.0 + 3.0 / 5.0
    ball = Barred(balls=np.array([[wall * np.cos(np.pi / 96), 0.0, 17.0, 4.0]]))
    level = found(post(), ball)
    # The first corner of the polygon stands on the x axis: the ball's middle lies in the wall beside it.
    reach = 4.0 * np.cos(np.arctan(0.2))
    assert level.barred_mm <= BARRED_LEAST_MM
    assert 17.0 - level.level_mm == pytest.approx(reach, abs=0.12)


def test_no_level_is_better_by_a_margin_than_the_one_found() -> None:
    """Against a search in steps of a hundredth of a millimetre, on a lumpy ball with and without a spot."""
    ball = solids.lumpy_sphere(3000)
    end_mm = float(ball.vertices_mm[:, 2].max())
    spot = Barred(balls=np.array([[0.0, 30.0, end_mm - 8.0, 14.0]]))
    for barred in (NONE, spot):
        level = found(ball, barred)
        levels = np.arange(end_mm - 12.31, end_mm - 0.31, 0.01)
        lines = level_lines(ball.vertices_mm, ball.faces, levels, barred, crease_deg=30.0, sharp_deg=45.0)
        stands = lines.lean + 0.02 * (end_mm - levels) + 0.1 * lines.held_mm2
        shortest = float(lines.length_mm.min())
        cost = lines.length_mm - 0.5 * lines.crease_mm + lines.corner_mm + stands * shortest
        free = lines.barred_mm <= BARRED_LEAST_MM
        deeper = free & (levels <= level.level_mm)
        assert free.any()
        assert level.barred_mm <= BARRED_LEAST_MM
        # The margin of 10 mm within which a usual level stands, and what the shortest line differs by.
        assert level.cost_mm <= float(cost[deeper].min()) + 10.0 + 1.0


def test_where_every_level_is_barred_the_least_barred_is_told() -> None:
    """A layer along the pull cuts the same two chords of every level; the shorter seam has the shorter
    ones or as long, and what lies in it is told.
    """
    layer = Barred(layers=np.array([[1.0, 0.0, 0.0, -5.0, 5.0]]))
    level = found(post(), layer)
    assert level.barred_mm == pytest.approx(20.0, rel=0.03)


def collar() -> Mesh:
    """A collar whose upper edge is sharp, 5 mm under the end, with a plumb wall under it."""
    profile = np.array([[0, 0], [34, 0], [34, 10], [30, 10.5], [26, 15], [0, 15]], float)
    return solids.revolved(profile, sides=90)


def test_it_takes_an_edge_that_hides_the_seam() -> None:
    """The level stands on the edge, a hair below, where usually it would stand on the wall under it; turned
    about the pull it stands there as well.
    """
    nothing = np.zeros((0, 2))
    for turn in (0.0, 0.7):
        mesh = collar()
        c, s = np.cos(turn), np.sin(turn)
        about = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
        turned = Mesh.make(mesh.vertices_mm @ about.T, mesh.faces, frame="object")
        assert found(turned, filled=nothing).level_mm == pytest.approx(10.0, abs=0.06)


def test_fill_is_never_left_to_the_main_pieces_for_a_better_seam() -> None:
    """With fill between edge and usual level, or when nothing is known of it, the usual one stands."""
    usual_mm = 15.0 - 6.17
    for filled in (None, np.array([[9.2, 9.6]]), np.array([[7.0, 9.6]])):
        assert found(collar(), filled=filled).level_mm == pytest.approx(usual_mm)
    for elsewhere in (np.array([[3.0, 8.0]]), np.array([[10.2, 12.0]])):
        assert found(collar(), filled=elsewhere).level_mm == pytest.approx(10.0, abs=0.06)


def footed(keep_out: tuple[Region, ...]) -> Assembly:
    """A post on a foot ring, hollow 4 mm underneath, in two halves and a foot piece."""
    outline = [[0.0, 4.0], [17.0, 4.0], [19.0, 0.0], [24.0, 0.0], [24.6, 3.0], [30.0, 45.0], [0.0, 45.0]]
    mesh = solids.revolved(np.array(outline), sides=48)
    option = MoldOption("several", PULL, 0.0, 0.0, "as asked", sides=(FOOT,))
    survey = replace(along(PULL), options=(option,))
    brief = replace(BARE, axis=PULL, pieces=3, keep_out=keep_out)
    return make_mold(measured(mesh), survey, brief, progress=lambda step, part: None).assembly


def test_a_foot_piece_keeps_its_seam_off_a_spot() -> None:
    """Where the seam usually runs a mark on the foot is forbidden: the seam goes above it, every piece is
    whole and leaves, and they fill the block.
    """
    spot = KeepOutSpot((17.3, 17.3, 1.5), 3.0)
    plain, moved = footed(()), footed((spot,))
    (crossed,) = seam_checks(plain, (spot,))
    assert not crossed.ok
    (clear,) = seam_checks(moved, (spot,))
    assert (clear.ok, clear.measured) == (True, 0.0)
    heights = [seen_along(mold, mold.pieces[-1]).interface_mm for mold in (plain, moved)]
    assert heights[0] - heights[1] > 1.0
    # In the hollow, 17 to 19 mm wide, which the foot piece fills, no seam is drawn.
    drawn = (np.concatenate(plain.seam_loops) - plain.shift_mm) @ plain.to_block
    at_foot = drawn[drawn[:, 2] < 4.0]
    assert float(np.hypot(at_foot[:, 0], at_foot[:, 1]).min()) > 20.0
    parts = {**{p.id: p.solid for p in moved.pieces}, "model": moved.model}
    checks = [*solidity(parts, moved), volumes_fill_block(parts, moved, share=1e-6)]
    checks += leaving(parts, moved, lateral_mm=0.01)
    assert [(c.id, c.measured) for c in checks if not c.ok] == []


def test_a_place_that_the_foot_piece_clears_is_no_matter() -> None:
    """A layer under the foot, which the seam of two halves would cross twice, is all the foot piece's; of the
    same layer half way up, which it leaves to the halves, the main seam has both crossings, and no mold is
    made.
    """
    cleared = KeepOut((0.0, 0.0, 1.0), -1.0, 2.0)
    mold = footed((cleared,))
    assert main_seam_inside_mm(mold, (cleared,)) == 0.0
    (clear,) = seam_checks(mold, (cleared,))
    assert (clear.ok, clear.measured) == (True, 0.0)
    crossed = KeepOut((0.0, 0.0, 1.0), 25.0, 28.0)
    # The wall leans by 5.4 mm out over 42 mm up.
    both_mm = 2.0 * 3.0 * np.hypot(1.0, 5.4 / 42.0)
    assert main_seam_inside_mm(mold, (crossed,)) == pytest.approx(both_mm, rel=0.02)
    (failed,) = seam_checks(mold, (crossed,))
    assert not failed.ok
    assert failed.measured == pytest.approx(both_mm, rel=0.02)
    with pytest.raises(CannotError, match="of the seam would run where none may"):
        footed((crossed,))
