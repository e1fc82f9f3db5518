"""Whether two spots can leave along one direction, on objects where that is known."""

from __future__ import annotations

import itertools

import manifold3d
import numpy as np
import pytest

from claybed.geometry.directions import fibonacci_axes
from claybed.geometry.mesh import Mesh
from claybed.geometry.reach import open_directions
from claybed.geometry.sharing import free, outlook, shared
from tests.pieces import solids

FLOOR_MM = -8.0
HALF_WIDE_MM = 3.0


def room_with_a_window() -> Mesh:
    """A box of 40 mm with a room of 30 in it, and a square window of 6 mm up through the 5 mm of its lid."""
    box = solids.to_manifold(solids.box(40.0, 40.0, 40.0))
    room = solids.to_manifold(solids.box(30.0, 30.0, 30.0))
    window = solids.to_manifold(solids.box(2.0 * HALF_WIDE_MM, 2.0 * HALF_WIDE_MM, 60.0))
    window = window.translate([0.0, 0.0, 30.0])
    return solids.from_manifold(box - room - window)


@pytest.mark.parametrize(("share", "verdict"), [(0.999, "some"), (1.01, "none")])
def test_two_spots_before_a_window(share: float, verdict: str) -> None:
    """Spots either side of the middle of a window leave along one direction while they are less than its
    width apart, however little: a sliver of a hundredth of a degree is found, and none a little beyond.

    Source: geometry; what a spot sees through a straight window ends at the far rim, (half width - offset)
    over the height of that rim.
    """
    mesh = room_with_a_window()
    spots = [np.array([s * share * HALF_WIDE_MM, 0.4, FLOOR_MM]) for s in (-1.0, 1.0)]
    one, two = (outlook(mesh, spot) for spot in spots)
    found = shared(one, two)
    assert found.verdict == verdict
    dense = np.concatenate([fibonacci_axes(1600), -fibonacci_axes(1600)])
    assert not (free(one, dense) & free(two, dense)).any(), "samples alone cannot tell these two apart"


def test_it_agrees_with_rays() -> None:
    """For spots in and about the holes of a drilled cube a direction is found wherever a ray frees both; few
    pairs, whose directions touch, are left open.
    """
    mesh = solids.cube_with_blind_holes(("+x", "-x", "+y", "-y", "+z", "-z"))
    dense = np.concatenate([fibonacci_axes(700), -fibonacci_axes(700)])
    corner = mesh.corners_mm[:: len(mesh.faces) // 9]
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    spots = corner.mean(axis=1) + 0.01 * normal / np.linalg.norm(normal, axis=1, keepdims=True)
    rays = [open_directions(mesh, spot, dense) for spot in spots]
    seen = [outlook(mesh, spot) for spot in spots]
    told = {"none": 0, "some": 0, "undecided": 0}
    for i, j in itertools.combinations(range(len(spots)), 2):
        verdict = shared(seen[i], seen[j]).verdict
        told[verdict] += 1
        assert (verdict == "some") or not (rays[i] & rays[j]).any(), (i, j)
    assert told["none"] > 3
    assert told["some"] > 3
    assert told["undecided"] <= 2


def test_rays_meet_what_they_are_known_to_meet() -> None:
    """Which rays are free is what the ray test says that was written apart from it."""
    mesh = solids.cube_with_blind_holes()
    spot = np.array([15.05, 1.0, 2.0])
    dense = np.concatenate([fibonacci_axes(500), -fibonacci_axes(500)])
    assert (free(outlook(mesh, spot), dense) == open_directions(mesh, spot, dense)).all()


def test_a_face_taken_out_of_the_way_is_noticed() -> None:
    """Two spots that share nothing share a direction once one face no longer closes it."""
    mesh = solids.cube_with_blind_holes()
    spots = [np.array([15.1, 0.5, 0.5]), np.array([0.5, 15.1, 0.5])]
    assert shared(*(outlook(mesh, spot) for spot in spots)).verdict == "none"
    way = np.array([1.0, 0.9, 0.05])
    rows = np.ones(len(mesh.faces), bool)
    for spot in spots:
        for row in range(len(mesh.faces)):
            alone = Mesh.make(mesh.vertices_mm, mesh.faces[row : row + 1], frame="object")
            if not open_directions(alone, spot, way[None] / np.linalg.norm(way))[0]:
                rows[row] = False
    assert 0 < (~rows).sum() < 8
    opened = Mesh.make(mesh.vertices_mm, mesh.faces[rows], frame="object")
    assert shared(*(outlook(opened, spot) for spot in spots)).verdict == "some"


@pytest.mark.parametrize(("draft_deg", "verdict"), [(4.6, "some"), (5.1, "none")])
def test_walls_that_face_each_other_share_a_pull_up_to_their_draft(draft_deg: float, verdict: str) -> None:
    """Two walls of a trench that each lean by 5 degrees leave upwards with up to that much draft, and with
    more along no one pull, although each alone does.

    Source: geometry; sin(draft) = n . d for both of n = (±cos 5, 0, sin 5) is greatest for d = z.
    """
    block = solids.to_manifold(solids.box(60.0, 60.0, 40.0))
    low, high = 8.0, 8.0 + 30.0 * np.tan(np.radians(5.0))
    profile = np.array([[-low, -10.0], [low, -10.0], [high, 20.0], [-high, 20.0]])
    trench = manifold3d.CrossSection([profile]).extrude(80.0).translate([0.0, 0.0, -40.0])
    mesh = solids.from_manifold(block - trench.rotate([90.0, 0.0, 0.0]))
    middle = (low + high) / 2.0
    lean = np.array([np.cos(np.radians(5.0)), 0.0, np.sin(np.radians(5.0))])
    looks = []
    for side in (-1.0, 1.0):
        normal = lean * [-side, 1.0, 1.0]
        spot = np.array([side * middle, 0.0, 5.0]) + 0.01 * normal
        looks.append(outlook(mesh, spot, beside=normal, draft_rad=np.radians(draft_deg)))
    assert shared(*looks).verdict == verdict
    steep = np.array([[0.0, 0.0, 1.0], *(look.beside * [1.0, 1.0, 12.0] for look in looks)])
    steep /= np.linalg.norm(steep, axis=1, keepdims=True)
    assert free(looks[0], steep).tolist() == [verdict == "some", True, False]


def test_three_spots_may_share_nothing_although_each_two_do() -> None:
    """Three walls round a hole that lean by 5 degrees leave two at a time with 6 degrees of draft, the pull
    leaning away from both, and never all three.

    Source: geometry; three normals at 120 degrees sum to straight up, along which each has 5 degrees.
    """
    mesh = solids.cube_with_blind_holes(("+z",), taper_deg=5.0, corners=24)
    looks = []
    for turn in np.radians([7.5, 127.5, 247.5]):
        normal = np.array([-np.cos(turn), -np.sin(turn), np.tan(np.radians(5.0))])
        normal /= np.linalg.norm(normal)
        wall = 8.0 * np.cos(np.pi / 24.0) * np.array([np.cos(turn), np.sin(turn), 0.0])
        spot = wall + [0.0, 0.0, 22.5] + 0.01 * normal
        looks.append(outlook(mesh, spot, beside=normal, draft_rad=np.radians(6.0)))
    for one, two in itertools.combinations(looks, 2):
        assert shared(one, two).verdict == "some"
    assert shared(*looks).verdict == "none"
