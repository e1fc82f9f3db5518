"""Simple bodies against closed forms of geometry."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from claybed.errors import CannotError, InputError
from claybed.geometry.mesh import Mesh
from claybed.intake.skin import is_closed
from claybed.making import shapes
from tests.pieces.solids import to_manifold

PLAIN = {"draft_deg": 0.0, "corner_mm": 0.0, "blunt_share": 0.42}


def sound(mesh: Mesh) -> bool:
    """Tell whether a mesh is one closed solid that stands on z = 0."""
    return (
        is_closed(mesh.faces.astype(np.int64), len(mesh.vertices_mm))
        and to_manifold(mesh).status().name == "NoError"
        and mesh.bounds_mm[0, 2] == pytest.approx(0.0, abs=1e-9)
    )


# Volumes in mm³, closed forms of any handbook; how far inside them a mesh of chords may lie.
KNOWN = [
    ("box", (100, 80, 60), {}, 100 * 80 * 60, 1e-9),
    ("cylinder", (80, 100), {}, math.pi * 40**2 * 100, 5e-4),
    ("cone", (80, 100), {}, math.pi * 40**2 * 100 / 3, 5e-4),
    ("sphere", (90,), {}, math.pi / 6 * 90**3, 1e-3),
    ("egg", (60, 44), {"blunt_share": 0.4}, 4 / 3 * math.pi * 22**2 * (0.4 * 60 + 0.6 * 60) / 2, 1e-3),
    # A prismatoid with flat sides: h/6 (A0 + 4 Am + A1).
    ("box", (100, 80, 60), {"draft_deg": 10.0},
     60 / 6 * (100 * 80 + 4 * (100 - 60 * math.tan(math.radians(10))) * (80 - 60 * math.tan(math.radians(10)))
               + (100 - 120 * math.tan(math.radians(10))) * (80 - 120 * math.tan(math.radians(10)))), 1e-9),
    # A frustum of a cone: π h/3 (R² + R r + r²).
    ("cylinder", (80, 50), {"draft_deg": 12.0},
     math.pi * 50 / 3 * (40**2 + 40 * (40 - 50 * math.tan(math.radians(12)))
                         + (40 - 50 * math.tan(math.radians(12)))**2), 5e-4),
    ("tile", (100, 100, 12), {"corner_mm": 50.0}, math.pi * 50**2 * 12, 5e-4),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "sizes", "more", "exact", "within"), KNOWN)
def test_volume_is_the_closed_form(
    kind: str, sizes: tuple[float, ...], more: dict[str, float], exact: float, within: float
) -> None:
    """The stated volume is the handbook's, and the mesh lies inside it by no more than its chords."""
    form = PLAIN | more
    assert shapes.volume_mm3(kind, sizes, **form) == pytest.approx(exact, rel=1e-12)
    mesh = shapes.made(kind, sizes, **form)
    assert mesh.volume_mm3 == pytest.approx(exact, rel=within)
    assert mesh.volume_mm3 <= exact * (1.0 + 1e-9)
    assert sound(mesh)


@pytest.mark.parametrize("kind", shapes.SIZES)
def test_sizes_are_kept(kind: str) -> None:
    """The body is as large as was asked, in every direction."""
    sizes = tuple(40.0 + 7.0 * k for k in range(len(shapes.SIZES[kind])))
    mesh = shapes.made(kind, sizes, **PLAIN)
    size = np.ptp(mesh.vertices_mm, axis=0)
    across = {"sphere": (40, 40, 40), "egg": (47, 47, 40)}.get(kind, (40, 40, 47))
    wanted = sizes if len(sizes) == 3 else across
    assert size == pytest.approx(wanted, rel=2e-4)


@given(st.sampled_from(sorted(shapes.SIZES)), st.floats(0.2, 4.0), st.floats(0.0, 8.0))
def test_volume_grows_with_the_cube(kind: str, scale: float, draft_deg: float) -> None:
    """A shape in another size has the cube of that size as volume, and the square as its doubt."""
    sizes = [60.0, 55.0, 30.0][: len(shapes.SIZES[kind])]
    form = PLAIN | {"draft_deg": draft_deg, "corner_mm": 3.0}
    large = form | {"corner_mm": 3.0 * scale}
    scaled = [s * scale for s in sizes]
    assert shapes.volume_mm3(kind, scaled, **large) == pytest.approx(
        scale**3 * shapes.volume_mm3(kind, sizes, **form), rel=1e-9
    )
    one = shapes.half_width_mm3(kind, sizes, 0.5, **form)
    assert shapes.half_width_mm3(kind, scaled, 0.5, **large) == pytest.approx(scale**2 * one, rel=1e-3)


def test_the_doubt_is_what_chance_gives() -> None:
    """Sizes shaken by their error give volumes of which the stated half-width holds 95 %."""
    rng = np.random.default_rng(3)
    sizes = (100.0, 80.0, 60.0)
    stated = shapes.half_width_mm3("box", sizes, 0.8, **PLAIN)
    shaken = np.prod(np.array(sizes) + rng.normal(0.0, 0.8 / 1.959964, (20_000, 3)), axis=1)
    held = np.mean(np.abs(shaken - math.prod(sizes)) <= stated)
    assert held == pytest.approx(0.95, abs=0.007)


WRONG = [
    ("pyramid", (50.0, 50.0), {}, InputError, "no shape known"),
    ("box", (50.0, 50.0), {}, InputError, "length x width x height"),
    ("sphere", (0.0,), {}, InputError, "is not made"),
    ("sphere", (math.nan,), {}, InputError, "is not made"),
    ("box", (50.0, 50.0, 50.0), {"draft_deg": 75.0}, InputError, "too much"),
    ("box", (50.0, 50.0, 500.0), {"draft_deg": 10.0}, CannotError, "Use less than 2.8 degrees"),
    ("tile", (50.0, 30.0, 5.0), {"corner_mm": 16.0}, InputError, "do not fit"),
    ("egg", (60.0, 40.0), {"blunt_share": 1.0}, InputError, "no share of an egg"),
]


@pytest.mark.parametrize(("kind", "sizes", "more", "error", "words"), WRONG)
def test_what_is_no_shape(
    kind: str, sizes: tuple[float, ...], more: dict[str, float], error: type[Exception], words: str
) -> None:
    """Sizes that make no body are refused in one sentence that says what would do."""
    with pytest.raises(error, match=words):
        shapes.made(kind, sizes, **(PLAIN | more))
