"""What stands in a form, cut through: areas of boxes that anyone can reckon."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from claybed.assets.palette import FRESH, rgb
from claybed.geometry.mesh import Floats, Mesh
from claybed.sheets.form_cuts import BOARD, CLAY, SAND, Standing, form_cut
from tests.pieces import solids


def box(low: tuple[float, float, float], high: tuple[float, float, float]) -> Mesh:
    """A box between two corners, in the block's frame."""
    size = np.subtract(high, low)
    made = solids.box(*(float(side) for side in size))
    return Mesh.make(
        made.vertices_mm - made.vertices_mm.min(axis=0) + np.array(low), made.faces, frame="block"
    )


CUBE = box((30.0, 30.0, 30.0), (70.0, 70.0, 70.0))
# A block of 100 mm in three: an upper and a lower piece, and one at the right, 20 mm thick, poured last.
THREE = Standing(
    pieces=(
        ("A", box((0.0, 0.0, 50.0), (80.0, 100.0, 100.0))),
        ("B", box((0.0, 0.0, 0.0), (80.0, 100.0, 50.0))),
        ("C", box((80.0, 0.0, 0.0), (100.0, 100.0, 100.0))),
    ),
    aside=frozenset("C"),
    base="",
    level_mm=50.0,
    model=CUBE,
    thing=CUBE,
)
UP, OVER = np.eye(3), np.diag([1.0, -1.0, -1.0])
LOW, HIGH = np.array([0.0, 0.0, 25.0]), np.array([100.0, 100.0, 100.0])


def share(picture: Image.Image, colour: str) -> float:
    """The share of a picture that is nearly of a colour."""
    away = np.abs(np.asarray(picture.convert("RGB"), dtype=int) - np.array(rgb(colour))).max(axis=2)
    return float((away < 12).mean())


def cut(piece: str, turn: Floats, low: Floats, high: Floats, *, above: bool = False) -> Image.Image:
    """The cut of a form of the three."""
    return form_cut(THREE, piece, turn, low, high, from_above=above)


def test_the_first_pour_shows_bed_filler_and_room() -> None:
    """75 mm of form from the front: a third of bed but for the cube in it, a filler of 1/5, and the rest
    plaster, less half the cube.
    """
    front = cut("A", UP, LOW, HIGH)
    whole = 100.0 * 75.0
    # Letters, stripes and edges take a little.
    assert share(front, FRESH) == pytest.approx((80.0 * 50.0 - 40.0 * 20.0) / whole, abs=0.04)
    assert 0.6 * 20.0 * 75.0 / whole < share(front, BOARD) < 20.0 * 75.0 / whole
    bed = (80.0 * 25.0 - 40.0 * 20.0) / whole
    assert 0.6 * bed < share(front, CLAY) < bed
    above = cut("A", UP, LOW, HIGH, above=True)
    assert share(above, FRESH) == pytest.approx(0.8 - 0.16, abs=0.04) and share(above, CLAY) == 0.0


def test_later_pours_show_what_has_set() -> None:
    """Turned over there is no bed any more; on its side both set pieces stand there, and no filler."""
    second = cut("B", OVER, np.array([0.0, -100.0, -100.0]), np.array([100.0, 0.0, 0.0]))
    assert share(second, CLAY) == 0.0 and share(second, BOARD) > 0.12
    assert share(second, FRESH) == pytest.approx((4000.0 - 800.0) / 1e4, abs=0.04)
    on_side = np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]])
    third = cut("C", on_side, np.zeros(3), np.full(3, 100.0))
    assert share(third, BOARD) == 0.0 and share(third, CLAY) == 0.0
    assert share(third, FRESH) == pytest.approx(0.2, abs=0.02)


def test_a_plug_is_told_from_its_object() -> None:
    """What is added to the object outside its face is the plug; a fill inside it is not."""
    bar = box((45.0, 0.0, 45.0), (55.0, 30.0, 55.0))
    both = Mesh.make(
        np.concatenate([CUBE.vertices_mm, bar.vertices_mm]),
        np.concatenate([CUBE.faces, bar.faces + len(CUBE.vertices_mm)]),
        frame="block",
    )
    plug = (np.array([50.0, 30.0, 50.0]), np.array([0.0, -1.0, 0.0]))
    standing = Standing(THREE.pieces, THREE.aside, "", 50.0, both, CUBE, plug)
    above = form_cut(standing, "A", UP, LOW, HIGH, from_above=True)
    assert 0.3 * 10.0 * 30.0 / 1e4 < share(above, SAND) < 10.0 * 30.0 / 1e4
    assert share(form_cut(standing, "A", UP, LOW, HIGH, from_above=False), SAND) == 0.0
