"""A rendered ring of photographs: the hull against the best its views can give, and bad pictures."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
import trimesh

from claybed.errors import CannotError, InputError
from claybed.photos.contact_sheet import contact_sheet
from claybed.photos.hull import carve_hull, views_of
from claybed.photos.outline import Outline
from claybed.photos.ring import Ring, Source, reach_of, read_ring, ring_object
from claybed.photos.shot import print_scale
from claybed.records.object_file import ObjectFile
from tests.photos.rendering import silhouette
from tests.photos.rings import bad_pictures, mug, ring_cameras, ring_pictures

SCALE = print_scale(150.0, None)
pytestmark = pytest.mark.slow


def quiet(phase: str, done: float) -> None:
    """Progress that nobody watches."""


def sources(*extra: tuple[str, bytes]) -> list[Source]:
    """The ring's pictures, and others after them."""
    named = [(f"p{k:02d}.jpg", data) for k, data in enumerate(ring_pictures())]
    return [Source(name, lambda data=data: data) for name, data in (*named, *extra)]  # type: ignore[misc]


@cache
def good_ring() -> tuple[Ring, ObjectFile]:
    """What is kept of the ring when three bad pictures come with it, and its object.

    Everything below is asked of this one reading: that the bad ones are gone has to show in all of it.
    """
    ring = read_ring(sources(*bad_pictures()), SCALE, quiet)
    return ring, ring_object(ring, SCALE, name="mug", progress=quiet)


def best_hull(ring: Ring) -> trimesh.Trimesh:
    """What exact outlines leave, seen by the true cameras."""
    true = {f"p{k:02d}.jpg": camera for k, camera in enumerate(ring_cameras())}
    outlines = []
    for shot, outline in zip(ring.shots, ring.outlines, strict=True):
        camera = true[shot.picture.name]
        factor = outline.camera.lens.focal_px / shot.camera.lens.focal_px
        exact = camera.straight(factor).cut(*outline.corner_px)
        size = outline.inside.shape[1], outline.inside.shape[0]
        seen = silhouette(np.asarray(mug().vertices), np.asarray(mug().faces), exact, size)
        outlines.append(Outline(seen.astype(np.float32), exact, 0.0, False))
    hull = carve_hull(views_of(outlines), [o.camera for o in outlines], reach_of(ring.shots))
    return trimesh.Trimesh(hull.mesh.vertices_mm, hull.mesh.faces, process=False)


def test_every_good_picture_is_used() -> None:
    """Two makes of camera, uneven light and noise are no reason to leave a picture out."""
    ring, _ = good_ring()
    assert [shot.picture.name for shot in ring.shots] == [source.name for source in sources()]
    assert len({shot.picture.size_px for shot in ring.shots}) == 2


def test_hull_is_as_good_as_its_views_allow() -> None:
    """Volume within 3 % of the hull of exact outlines, its sides within 0.5 % or half a millimetre."""
    ring, made = good_ring()
    best = best_hull(ring)
    assert made.volume_ml * 1000.0 == pytest.approx(best.volume, rel=0.03)
    assert made.extent_mm is not None
    for got, wanted in zip(made.extent_mm, best.extents, strict=True):
        assert got == pytest.approx(wanted, rel=0.005, abs=0.5)


def test_scale_is_right() -> None:
    """Cameras stand as far off as they did, within 0.5 %."""
    ring, _ = good_ring()
    true = {f"p{k:02d}.jpg": camera for k, camera in enumerate(ring_cameras())}
    ratios = [
        np.linalg.norm(s.camera.eye_mm) / np.linalg.norm(true[s.picture.name].eye_mm) for s in ring.shots
    ]
    assert np.mean(ratios) == pytest.approx(1.0, abs=0.005)


def test_band_is_one_sided_and_holds_the_filled_mug() -> None:
    """The mug with its mouth closed lies in the band: hardly above, down to what the views leave over."""
    _, made = good_ring()
    band = made.measuring.band
    assert made.measuring.kind == "hull"
    assert band.smaller_share > 2.0 * band.larger_share
    # The body as a frustum of 36 and 41 mm radius over 95 mm (the drawing), and 8 to 20 ml of handle.
    body_ml = np.pi * 95.0 / 3.0 * (36.0**2 + 36.0 * 41.0 + 41.0**2) / 1000.0
    low, high = made.volume_ml * (1 - band.smaller_share), made.volume_ml * (1 + band.larger_share)
    assert low < body_ml + 20.0
    assert high > body_ml + 8.0


def test_hull_is_one_closed_solid_with_the_handle_open() -> None:
    """The mesh is closed, of one body, and one hole goes through the handle."""
    _, made = good_ring()
    assert made.mesh is not None
    solid = trimesh.Trimesh(made.mesh.vertices_mm, made.mesh.faces, process=False)
    assert solid.is_watertight
    assert solid.body_count == 1
    assert solid.euler_number == 0


def test_hollows_that_no_outline_shows_are_named() -> None:
    """The mouth and the foot are said to be filled up."""
    _, made = good_ring()
    said = " ".join(made.measuring.cannot_tell)
    assert "mouth" in said
    assert "foot" in said


def test_bad_pictures_are_left_out_and_named() -> None:
    """A blurred one, one without mat and one of the moved object go, each with its reason."""
    ring, made = good_ring()
    assert {one.name for one in ring.left_out} == {"blurred.jpg", "moved.jpg", "table.jpg"}
    why = {one.name: one.why for one in ring.left_out}
    assert "blurred" in why["blurred.jpg"]
    assert "mat" in why["table.jpg"]
    assert "outline" in why["moved.jpg"]
    assert sum(finding.id == "photo_left_out" for finding in made.findings) == 3


def test_all_pictures_are_shown_with_their_outlines() -> None:
    """The sheet has a tile for each picture used, and in each tile the line that was measured by."""
    ring, _ = good_ring()
    sheet = contact_sheet(ring.shots, ring.outlines).astype(np.int64)
    line = (np.abs(sheet - np.array([44, 74, 138])) < 40).all(axis=2)
    rows = -(-len(ring.shots) // 4)
    tiles = [tile for row in np.array_split(line, rows) for tile in np.array_split(row, 4, axis=1)]
    drawn = [tile.sum() > 300 for tile in tiles]
    assert drawn == [True] * len(ring.shots) + [False] * (4 * rows - len(ring.shots))


def test_too_few_good_pictures_are_refused_with_reasons() -> None:
    """Four good pictures and four without a mat to measure by make no hull, and the reasons are told."""
    blurred, _, table = bad_pictures()
    few = sources(blurred, table, ("again.jpg", table[1]), ("shaken.jpg", blurred[1]))
    with pytest.raises(CannotError, match="hull needs 6") as refused:
        read_ring([*few[:4], *few[-4:]], SCALE, quiet)
    assert "blurred.jpg" in str(refused.value)


def test_counts_outside_the_range_are_refused() -> None:
    """Three pictures are no ring, and neither are forty."""
    for count in (3, 40):
        with pytest.raises(InputError, match="8 to 36"):
            read_ring((sources() * 4)[:count], SCALE, quiet)


def test_a_measured_height_cuts_the_hull() -> None:
    """With --height the hull ends there, and nothing is said of a top that was not seen."""
    ring, made = good_ring()
    cut = ring_object(ring, SCALE, name="mug", height_mm=95.0, progress=quiet)
    assert cut.extent_mm is not None
    assert cut.extent_mm[2] == pytest.approx(95.0, abs=0.1)
    assert cut.volume_ml < made.volume_ml
    assert "top_unseen" not in {finding.id for finding in cut.findings}
