"""Pictures show what they must, told by their pixels."""

import numpy as np
import pytest
from PIL import Image
from specimen import Specimen

from claybed.assets.palette import OXIDE, SLATE, rgb
from claybed.geometry.barred import Barred
from claybed.geometry.mesh import Mesh, Origin
from claybed.scene.smoothing import corner_normals, crease_edges
from claybed.sheets import linework, pictures
from claybed.sheets.bed_picture import CLAY, bed_done
from claybed.sheets.places import fill_spots_mm
from claybed.sheets.rendering import Scene, framed, looking
from claybed.sheets.section import cut_mask, section


def near(image: Image.Image, colour: str, within: float = 26.0) -> np.ndarray:
    """Which pixels come close to a colour."""
    flat = np.asarray(image.convert("RGB"), dtype=float)
    return np.linalg.norm(flat - np.array(rgb(colour), dtype=float), axis=2) < within


def without_fill(mesh: Mesh) -> Mesh:
    """The same mesh with its fill called object."""
    origin = np.where(mesh.origin == int(Origin.FILL), int(Origin.OBJECT), mesh.origin)
    return Mesh.make(mesh.vertices_mm, mesh.faces, frame=mesh.frame, origin=origin)


def ball(radius_mm: float = 20.0) -> Mesh:
    """A round body for geometry that is known."""
    import trimesh

    solid = trimesh.creation.icosphere(subdivisions=4, radius=radius_mm)
    return Mesh.make(solid.vertices, solid.faces, frame="block")


def test_a_lattice_lies_where_no_seam_may_run() -> None:
    """Over the lower half of a ball, and nowhere else; without such a place the picture is as it was."""
    body = ball()
    plain, barred = (
        np.asarray(pictures.object_with_seam(body, [], [], (), places, width_px=300, height_px=300), float)
        for places in (None, Barred(layers=np.array([[0.0, 0.0, 1.0, -100.0, 0.0]])))
    )
    assert plain.shape == barred.shape
    changed = np.abs(plain - barred).max(axis=2) > 20.0
    rows = np.nonzero(changed)[0]
    inked = np.nonzero((plain < 250.0).any(axis=2))[0]
    assert changed.sum() > 0.1 * len(inked)
    # What is changed lies low on the ball, seen from above its middle.
    assert rows.min() > np.quantile(inked, 0.3)
    assert np.array_equal(
        plain, pictures.object_with_seam(body, [], [], (), Barred(), width_px=300, height_px=300)
    )


def test_seam_is_drawn_dark_and_long(bottle: Specimen) -> None:
    """With its loops the seam adds a long dark line; without them it does not."""
    with_line = pictures.object_with_seam(bottle.model, bottle.seam_loops_mm, width_px=700, height_px=500)
    plain = pictures.object_with_seam(bottle.model, [], width_px=700, height_px=500)
    dark, before = near(with_line, SLATE), near(plain, SLATE)
    assert dark.sum() > 3 * max(before.sum(), 200)
    columns = np.flatnonzero(dark.any(axis=0))
    assert np.ptp(columns) > 0.5 * with_line.width


def test_a_seam_that_ends_is_not_led_back_through_the_air() -> None:
    """Half a ring before a ball is half as much line as the ring, with nothing drawn straight across."""
    turns = np.linspace(0.0, np.pi, 60)
    half = 20.1 * np.stack([np.cos(turns), np.full(60, -1.2), np.sin(turns)], axis=1)
    whole = np.concatenate([half, half[::-1] * [1.0, 1.0, -1.0]])
    drawn = Scene()
    drawn.add(ball(), {Origin.OBJECT: "#F0F0F0"})
    camera = framed(looking(np.array([0.0, -1.0, 0.0]), np.array([0.0, 0.0, 1.0])), whole, 300, 300)
    pixels = []
    for loop in (half, whole, whole[:0]):
        seen = drawn.draw(camera, 300, 300)
        image = linework.as_image(seen)
        linework.draw_seam(image, seen, [loop])
        pixels.append(int(near(image, SLATE).sum()))
    open_line, ring, none = pixels
    assert none < 0.1 * ring and open_line < 0.6 * ring


def test_fill_is_hatched_with_dark_and_pale_stripes(bottle: Specimen) -> None:
    """Fill shows as oxide stripes that come and go along a row; without fill there is no oxide at all."""
    image = pictures.fill_close_up(bottle.model, [], width_px=500, height_px=400)
    assert image is not None
    dark = near(image, OXIDE, 40.0)
    row = dark[int(np.median(np.flatnonzero(dark.any(axis=1))))]
    changes = int(np.abs(np.diff(row.astype(int))).sum())
    assert changes >= 10
    bare = without_fill(bottle.model)
    assert pictures.fill_close_up(bare) is None
    assert (
        near(
            pictures.object_with_seam(bare, bottle.seam_loops_mm, width_px=500, height_px=400), OXIDE, 40.0
        ).sum()
        == 0
    )


def test_hatching_survives_a_grey_print(bottle: Specimen) -> None:
    """In grey the stripes of fill still differ in tone far more than shading does."""
    image = pictures.fill_close_up(bottle.model, [], width_px=500, height_px=400)
    assert image is not None
    grey = np.asarray(image.convert("L"), dtype=float)
    on = near(image, OXIDE, 60.0)
    rows = np.flatnonzero(on.any(axis=1))
    row = rows[len(rows) // 2]
    columns = np.flatnonzero(on[row])
    stripe = grey[row, columns.min() : columns.max()]
    assert np.percentile(stripe, 90) - np.percentile(stripe, 10) > 60


def test_pieces_apart_show_every_letter_colour_and_do_not_touch(bottle: Specimen) -> None:
    """Both piece colours are there, and along the pull there is room with nothing but the model between
    them."""
    image = pictures.exploded(bottle.pieces, bottle.model, width_px=800, height_px=560)
    flat = np.asarray(image.convert("RGB"), dtype=float)
    warm = (flat[..., 0] - flat[..., 2] > 50) & (flat[..., 1] > 100)
    cool = flat[..., 2] - flat[..., 0] > 10
    left = slice(0, int(image.width * 0.45))
    rows_warm, rows_cool = (np.flatnonzero(m[:, left].sum(axis=1) > 60) for m in (warm, cool))
    assert len(rows_warm) and len(rows_cool)
    assert np.median(rows_cool) < np.median(rows_warm)  # B leaves upwards, A stays below


def test_the_inside_of_each_piece_is_seen(bottle: Specimen) -> None:
    """From the side the pull points away from, the cavity covers a good part of the piece's picture."""
    for _, mesh, pull in bottle.pieces:
        scene = Scene()
        scene.add(mesh, {})
        camera = framed(looking(-np.array(pull), np.array([0.0, 1.0, 0.0])), mesh.vertices_mm, 200, 200)
        drawn, _, _ = scene.trace(camera, 200, 200)
        solid = drawn.part >= 0
        cavity = np.isin(drawn.origin, [int(Origin.OBJECT), int(Origin.FILL)])
        assert 0.2 < cavity.sum() / solid.sum() < 0.8


def test_a_ball_is_drawn_round_and_to_scale() -> None:
    """The area a ball covers is that of its circle at the camera's scale, to half a percent."""
    mesh = ball(20.0)
    scene = Scene()
    scene.add(mesh, {})
    camera = framed(looking(np.array([1.0, 2.0, 3.0]), np.array([0.0, 0.0, 1.0])), mesh.vertices_mm, 300, 200)
    drawn, _, _ = scene.trace(camera, 300, 200)
    area_mm2 = (drawn.part >= 0).sum() / drawn.camera.scale**2
    assert area_mm2 == pytest.approx(np.pi * 20.0**2, rel=5e-3)


def test_nearer_hides_farther() -> None:
    """Of two balls in line the nearer one is seen, whichever was added first."""
    mesh = ball(20.0)
    for shifts in ([0.0, 60.0], [60.0, 0.0]):
        scene = Scene()
        for shift in shifts:
            scene.add(mesh, {}, np.array([shift, 0.0, 0.0]))
        camera = framed(
            looking(np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0])), mesh.vertices_mm, 60, 60
        )
        drawn, _, _ = scene.trace(camera, 60, 60)
        assert set(np.unique(drawn.part[drawn.part >= 0])) == {shifts.index(60.0)}


def test_smooth_stays_smooth_and_sharp_stays_sharp(bottle: Specimen) -> None:
    """On a ball corner normals point outwards from the middle and no edge is sharp; a block has its edges."""
    mesh = ball(20.0)
    outward = mesh.corners_mm / np.linalg.norm(mesh.corners_mm, axis=2, keepdims=True)
    assert np.einsum("ijk,ijk->ij", corner_normals(mesh), outward).min() > 0.999
    assert len(crease_edges(mesh)) == 0
    _, piece, _ = bottle.pieces[0]
    assert len(crease_edges(piece)) > 12


def test_a_sliver_on_a_plain_face_is_no_line() -> None:
    """A face without width that joins two sides on the lid of a box has a slope that means nothing: the box
    still has its twelve edges and no line across the lid.
    """
    corners = np.array([[x, y, z] for z in (0.0, 20.0) for y in (0.0, 30.0) for x in (0.0, 40.0)])
    # Half way along the lid's diagonal, a hair off it and sunk by less than anyone sees.
    points = np.vstack([corners, [20.0, 15.001, 19.99]])
    lid = [[4, 5, 7], [4, 7, 8], [4, 8, 6], [8, 7, 6]]
    walls = [
        [0, 2, 3],
        [0, 3, 1],
        [0, 1, 5],
        [0, 5, 4],
        [1, 3, 7],
        [1, 7, 5],
        [3, 2, 6],
        [3, 6, 7],
        [2, 0, 4],
    ]
    faces = np.array([*lid, *walls, [2, 4, 6]], np.int32)
    box = Mesh.make(points, faces, frame="block", origin=Origin.OBJECT)
    assert box.volume_mm3 == pytest.approx(24_000.0, rel=1e-3)
    assert len(crease_edges(box)) == 12


def test_section_of_a_ball_is_its_disc() -> None:
    """The cut through the middle of a ball covers the area of its great circle, to half a percent."""
    mesh = ball(20.0)
    camera = framed(
        looking(np.array([0.0, -1.0, 0.0]), np.array([0.0, 0.0, 1.0])), mesh.vertices_mm, 400, 400
    )
    mask = cut_mask(mesh, np.zeros(3), np.array([0.0, 1.0, 0.0]), camera, (400, 400))
    assert mask.sum() / camera.scale**2 == pytest.approx(np.pi * 400.0, rel=5e-3)
    assert not cut_mask(mesh, np.array([0.0, 25.0, 0.0]), np.array([0.0, 1.0, 0.0]), camera, (400, 400)).any()


def test_section_fills_the_block(bottle: Specimen) -> None:
    """Pieces and model together leave no hole in the cut of the closed mold."""
    image = section(bottle.pieces, bottle.model, width_px=400, height_px=320)
    flat = np.asarray(image.convert("RGB"), dtype=int)
    block = flat[14 : int(image.height * 0.8), 14:-14]
    assert (block.min(axis=2) < 254).mean() > 0.97


def test_fill_patches_are_found_largest_first(bottle: Specimen) -> None:
    """A point is given for each patch, on the patch, and none where there is no fill."""
    spots = fill_spots_mm(bottle.model)
    assert len(spots) >= 1
    middle = bottle.model.corners_mm.mean(axis=1)
    filled = middle[bottle.model.origin == int(Origin.FILL)]
    assert np.linalg.norm(filled - spots[0], axis=1).min() < 1e-9
    assert fill_spots_mm(without_fill(bottle.model)) == []


def test_pictures_do_not_change_what_they_were_handed(bottle: Specimen) -> None:
    """The same picture comes out twice, and it is a PNG of the size it says."""
    first = pictures.as_png(
        pictures.object_with_seam(bottle.model, bottle.seam_loops_mm, width_px=300, height_px=200)
    )
    again = pictures.as_png(
        pictures.object_with_seam(bottle.model, bottle.seam_loops_mm, width_px=300, height_px=200)
    )
    assert first == again
    assert first.startswith(b"\x89PNG")


def test_nothing_to_draw_is_said(bottle: Specimen) -> None:
    """An empty mesh, no pieces and a pull without length are refused, not drawn blank."""
    empty = Mesh.make(np.zeros((0, 3)), np.zeros((0, 3), int), frame="block")
    with pytest.raises(ValueError, match="no faces"):
        pictures.object_with_seam(empty, [])
    with pytest.raises(ValueError, match="no pieces"):
        pictures.exploded([], bottle.model)
    with pytest.raises(ValueError, match="no length"):
        pictures.exploded([("A", bottle.pieces[0][1], (0.0, 0.0, 0.0))], bottle.model)


def test_only_places_in_sight_are_numbered(bottle: Specimen) -> None:
    """A place on the far side gets no number in a picture that does not show it."""
    bare = without_fill(bottle.model)
    sizes = {"width_px": 500, "height_px": 400}
    none = pictures.object_with_seam(bare, [], [], **sizes)
    middle = (bare.bounds_mm[0] + bare.bounds_mm[1]) / 2.0
    numbered = 0
    for side in (-1.0, 1.0):
        image = pictures.object_with_seam(bare, [], [middle + np.array([0.0, side * 39.0, 0.0])], **sizes)
        numbered += int(near(image, OXIDE, 40.0).sum() > near(none, OXIDE, 40.0).sum() + 50)
    assert numbered == 1


def test_what_lies_behind_is_not_seen() -> None:
    """Of a ball's two poles the one towards the eye is seen and the other is not."""
    mesh = ball(20.0)
    scene = Scene()
    scene.add(mesh, {})
    camera = framed(looking(np.array([0.0, 0.0, 1.0]), np.array([0.0, 1.0, 0.0])), mesh.vertices_mm, 100, 100)
    drawn, _, _ = scene.trace(camera, 100, 100)
    poles = np.array([[0.0, 0.0, 20.0], [0.0, 0.0, -20.0]])
    assert linework.seen(drawn, poles, 1.0).tolist() == [True, False]


def test_a_sheet_thinner_than_a_pixel_does_not_flood_its_section() -> None:
    """Two walls within one column of pixels cancel; they never fill the rest of the row."""
    import trimesh

    plate = trimesh.creation.box(extents=(0.02, 20.0, 20.0))
    mesh = Mesh.make(plate.vertices, plate.faces, frame="block")
    frame = np.array([[-20.0, 0.0, -20.0], [20.0, 0.0, 20.0]])
    camera = framed(looking(np.array([0.0, -1.0, 0.0]), np.array([0.0, 0.0, 1.0])), frame, 100, 100)
    assert cut_mask(mesh, np.zeros(3), np.array([0.0, 1.0, 0.0]), camera, (100, 100)).mean() < 0.02


def test_spots_that_bear_witness_are_all_marked() -> None:
    """A spot in sight is joined by a filled dot, one behind by a ring; both have their plates."""
    model = ball()
    level = np.linspace(0.0, 2.0 * np.pi, 60, endpoint=False)
    seam = [np.stack([20.0 * np.cos(level), 20.0 * np.sin(level), np.zeros(60)], axis=1)]
    size = {"width_px": 350, "height_px": 250}
    plain = near(pictures.object_with_seam(model, seam, [], **size), OXIDE).sum()
    spots = [np.array([side * 15.0, side * -12.0, side * 6.0]) for side in (1.0, -1.0)]
    marks = [near(pictures.object_with_seam(model, seam, [], [spot], **size), OXIDE).sum() for spot in spots]
    assert plain == 0
    assert min(marks) > 20, "every spot is marked, from wherever one looks"


def test_closed_holes_are_lettered_and_dashed() -> None:
    """The rim of a hole in sight is dashed in slate beside its letter; behind, its letter alone is left."""
    model = ball()
    turn = np.linspace(0.0, 2.0 * np.pi, 40, endpoint=False)
    size = {"width_px": 350, "height_px": 250}

    def inked(way: tuple[float, float, float], ink: str) -> int:
        out = np.array(way) / np.linalg.norm(way)
        side = np.cross(out, [0.0, 0.0, 1.0])
        side /= np.linalg.norm(side)
        # A circle of 5 mm on a ball of 20 mm, 0.1 mm off it.
        ring = np.outer(np.cos(turn), side) + np.outer(np.sin(turn), np.cross(side, out))
        rim = 5.0 * ring + out * np.sqrt(20.1**2 - 25.0)
        image = pictures.object_with_seam(model, [], [], holes=[("a", rim)], **size)
        return int(near(image, ink).sum())

    plain = near(pictures.object_with_seam(model, [], [], **size), SLATE).sum()
    ways = [(x, y, 0.4) for x in (-1.0, 1.0) for y in (-1.0, 1.0)]
    assert min(inked(way, OXIDE) for way in ways) > 20
    dashes = sorted(inked(way, SLATE) - plain for way in ways)
    assert dashes[0] < 10 < 30 < dashes[-1]


def test_the_finished_bed_shows_clay_object_and_front(bottle: Specimen) -> None:
    """From the front the clay is seen on all sides of the object, the boards behind it stay behind."""
    _, first, _ = bottle.pieces[0]
    low = float(bottle.model.bounds_mm[0, 2]) - 8.0
    image = bed_done(
        first, bottle.model, bottle.seam_loops_mm, board_mm=low, rim_mm=120.0, width_px=300, height_px=260
    )
    clay = near(image, CLAY, 60.0)
    assert 0.08 < clay.mean() < 0.8
    rows = np.flatnonzero(clay.any(axis=1))
    assert rows.max() > 0.6 * image.height
    bare = Mesh.make(first.vertices_mm, first.faces, frame=first.frame, origin=Origin.OUTSIDE)
    with pytest.raises(ValueError, match="parting"):
        bed_done(bare, bottle.model, [], board_mm=low, rim_mm=120.0)


def test_fill_out_of_sight_gets_a_second_picture() -> None:
    """Fill on one side is seen at once; fill on two sides needs a view from beyond."""
    plain = ball()
    middles = plain.corners_mm.mean(axis=1)
    right = np.where(middles[:, 0] > 18.0, int(Origin.FILL), int(Origin.OBJECT))
    both = np.where(np.abs(middles[:, 0]) > 18.0, int(Origin.FILL), int(Origin.OBJECT))
    for origin, more in ((right, False), (both, True)):
        model = Mesh.make(plain.vertices_mm, plain.faces, frame="block", origin=origin)
        beyond = pictures.fill_close_up(model, [], width_px=120, height_px=90, other_side=True)
        assert (beyond is not None) == more
