"""What draft costs in pieces, and pulls of which no two are opposite, on drilled cubes of known answers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from claybed.flow.fewest import fewest_findings
from claybed.geometry.depth import DepthRaster
from claybed.geometry.directions import fibonacci_axes
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.nearness import nearest_mm
from claybed.geometry.reach import open_directions
from claybed.geometry.sharing import Outlook, Shared
from claybed.records.surveyed import Drafted, Survey, Trade, Witness
from claybed.survey import drafting
from claybed.survey.drafting import drafted, free_pulls
from claybed.survey.leaning import leaning_option
from claybed.survey.witnessing import Sought, look_about, witness
from tests.pieces import solids
from tests.survey.test_witnessing import PULLS, SCORE, SEVERAL

ASKED_DEG = 2.0
FAR_CORNER = -np.ones(3) / np.sqrt(3.0)


def looked_at(taper_deg: float) -> tuple[Mesh, DepthRaster, Sought, Witness]:
    """A cube with blind holes in three faces whose walls open by a taper, with its spots and its witness."""
    mesh = solids.cube_with_blind_holes(taper_deg=taper_deg, corners=24)
    sought = look_about(mesh, PULLS)
    seen = witness(mesh, sought)
    assert seen is not None
    return mesh, DepthRaster(mesh, 256), sought, seen


@pytest.fixture(scope="module")
def tapered() -> tuple[Mesh, DepthRaster, Sought, Witness]:
    """Holes that have just the draft that is asked for."""
    return looked_at(ASKED_DEG)


def beside(mesh: Mesh, spots: Floats) -> Floats:
    """Unit normals (n, 3) of the walls that spots stand at."""
    _, face = nearest_mm(spots, mesh)
    corner = mesh.corners_mm[face]
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    unit: Floats = normal / np.linalg.norm(normal, axis=1, keepdims=True)
    return unit


def test_draft_costs_a_drilled_cube_the_fourth_piece(
    tapered: tuple[Mesh, DepthRaster, Sought, Witness],
) -> None:
    """Three pulls free holes tapered by the draft asked for, and with that draft it takes exactly four, the
    fourth along the far corner.

    Source: geometry; a hole tapered by the draft alone leaves along its axis only, which has none on faces
    opposite the other holes' mouths.
    """
    mesh, raster, sought, seen = tapered
    assert len(seen.spots_mm) == 3
    assert free_pulls(mesh, raster, sought, most=3) == ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    found = drafted(mesh, raster, seen, sought, ASKED_DEG)
    assert found is not None
    assert len(found.pulls) == 4
    assert sorted(found.pulls)[0] == pytest.approx(FAR_CORNER, abs=1e-6)
    assert {tuple(np.round(pull, 6)) for pull in found.pulls[:3]} == {tuple(row) for row in np.eye(3)}
    # Such pulls are cut as a main piece over a drilled face, side pieces, and a last one that leans.
    way = leaning_option(mesh, found.pulls, ASKED_DEG)
    assert way is not None
    assert way.pieces == 4
    assert way.leans == pytest.approx(FAR_CORNER, abs=1e-6)
    assert way.crown_mm == pytest.approx(30.0, abs=1e-6)
    assert leaning_option(mesh, found.pulls[:3], ASKED_DEG) is None
    upright = leaning_option(mesh, found.pulls, ASKED_DEG, axis=(0.0, 0.0, -1.0))
    assert upright is not None
    assert upright.pull == pytest.approx((0.0, 0.0, 1.0), abs=1e-6)
    assert leaning_option(mesh, found.pulls, ASKED_DEG, axis=(0.6, 0.0, 0.8)) is None
    # The wall that is left out is one of the far faces.
    assert found.wall_mm is not None
    assert beside(mesh, np.array([found.wall_mm])).min() == pytest.approx(-1.0, abs=1e-6)


def test_rays_find_no_pull_where_none_was_proved(
    tapered: tuple[Mesh, DepthRaster, Sought, Witness],
) -> None:
    """Of directions all round, and close about each hole, none frees a spot with its companions and the
    wall left out; each companion has a way out of its own.
    """
    mesh, raster, sought, seen = tapered
    found = drafted(mesh, raster, seen, sought, ASKED_DEG)
    assert found is not None
    dense = np.concatenate([fibonacci_axes(900), -fibonacci_axes(900)])
    near = np.random.default_rng(5).normal(0.0, 0.03, (1500, 3))
    rays = np.concatenate([dense, *(near + axis for axis in np.eye(3)), np.eye(3)])
    rays /= np.linalg.norm(rays, axis=1, keepdims=True)
    spots = np.array([*seen.spots_mm, *found.companions_mm, found.wall_mm])
    sine = np.sin(np.radians(ASKED_DEG))
    lean = beside(mesh, spots) @ rays.T >= sine - 1e-7
    leaves = lean & np.stack([open_directions(mesh, spot, rays) for spot in spots])
    assert leaves.any(axis=1).all()
    hole = np.argmax(np.abs(spots[:-1]), axis=1)
    for axis in range(3):
        together = leaves[:-1][hole == axis].all(axis=0)
        assert together.any(), "the axis of the hole frees it"
        assert not (together & leaves[-1]).any()


@pytest.mark.parametrize(("taper_deg", "draft_deg"), [(6.0, 2.0), (0.0, 2.0), (2.0, 0.0)])
def test_no_piece_more_where_draft_is_to_be_had_or_is_not_asked(taper_deg: float, draft_deg: float) -> None:
    """Holes with three times the draft lean to give the far faces theirs, straight ones have none to give,
    and of no draft there is nothing to say.
    """
    mesh, raster, sought, seen = looked_at(taper_deg)
    assert drafted(mesh, raster, seen, sought, draft_deg) is None


def test_a_proof_left_open_claims_nothing(
    tapered: tuple[Mesh, DepthRaster, Sought, Witness], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where it cannot be told whether the far wall leaves as well, no fourth piece is claimed."""
    mesh, raster, sought, seen = tapered
    real = drafting.shared

    def open_with_wall(*spots: Outlook, most: int) -> Shared:
        far = any(spot.beside is not None and spot.beside.min() < -1.0 + 1e-6 for spot in spots)
        return Shared("undecided", 1, 0.002) if far else real(*spots, most=most)

    monkeypatch.setattr(drafting, "shared", open_with_wall)
    assert drafted(mesh, raster, seen, sought, ASKED_DEG) is None


def test_what_is_said_of_draft() -> None:
    """The count with draft is told with its reason, and the wall has a mark and a place of its own."""
    seen = Witness(((0.0, 0.0, 1.0),) * 3, ((0.0, 0.0, 1.0),) * 3, 2.5, 0.0, 24, 16.0)
    front = (Trade(2, 5.0, SCORE.axis, ()), Trade(4, 0.0, SCORE.axis, ()))
    more = Drafted(1.5, (1.0, 2.0, 3.0), (), ((0.0, 0.0, 1.0),) * 4)
    base = Survey(
        (SEVERAL,),
        SCORE,
        (),
        (),
        (SCORE,),
        False,
        0.2,
        front,
        seen,
        ((1.0, 0.0, 0.0), (0.0, -0.6, 0.8)),
        more,
    )
    (told,) = fewest_findings(base, lambda at: f"at {at[0]:g}", made=False)
    assert "Pulled along +x and (0, -0.6, 0.8) of the file two would do" in told.remedy
    assert "found with four" in told.remedy
    assert "With 1.5° of draft on every wall" in told.remedy
    assert "four are the fewest" in told.remedy
    assert told.where.endswith("III at 0; IV at 1")
    (plain,) = fewest_findings(replace(base, drafted=None), lambda at: f"at {at[0]:g}", made=False)
    assert "draft" not in plain.remedy
    assert "IV" not in plain.where
    (shut,) = fewest_findings(
        replace(base, drafted=replace(more, wall_mm=None)), lambda at: "there", made=False
    )
    assert "do not all have it along one pull" in shut.remedy
    assert "plan it with --pieces 4" not in shut.remedy
    leaning = replace(SEVERAL, leans=(0.0, 0.6, -0.8), crown_mm=1.0, draft_deg=1.5)
    (offered,) = fewest_findings(replace(base, options=(SEVERAL, leaning)), lambda at: "", made=False)
    assert offered.remedy.endswith(f"For such a mold plan it with --pieces {leaning.pieces}.")
    (made,) = fewest_findings(replace(base, options=(leaning,)), lambda at: "", made=True)
    assert "This mold has them" in made.remedy
    alone = replace(base, options=(leaning,), drafted=None)
    (claimed,) = fewest_findings(alone, lambda at: "", made=True)
    assert "has not been shown" in claimed.remedy
    assert "IV" not in shut.where
