"""Turned forms against closed forms, against themselves in other sizes, and against chance."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from forms import HANDLE, MUG, SQUARISH, VASE, ball, from_curve, level
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate

from claybed.errors import CannotError, InputError
from claybed.intake.skin import is_closed
from claybed.making.profile import breaks, curve, table
from claybed.making.sections import area_mm2, ring_mm
from claybed.making.turning import Turned, form_volume_mm3, turned
from claybed.records.form import Form, Reading, Section
from tests.pieces.solids import to_manifold

HERE = "readings.csv"


def closed(made: Turned) -> bool:
    """Tell whether a mesh is one closed solid for our own count and for the solid kernel."""
    mesh = made.mesh
    solid = to_manifold(mesh)
    return (
        is_closed(mesh.faces.astype(np.int64), len(mesh.vertices_mm))
        and solid.status().name == "NoError"
        and len(solid.decompose()) == 1
        and math.isclose(solid.volume(), mesh.volume_mm3, rel_tol=1e-9)
    )


def test_a_cone_has_the_volume_of_a_cone() -> None:
    """Two readings make a frustum: h/12 π (D² + Dd + d²), any textbook; the mesh is a hair inside it."""
    made = turned(Form((level(0, 60), level(100, 80))), HERE)
    exact = math.pi * 100.0 / 12.0 * (60**2 + 60 * 80 + 80**2)
    assert form_volume_mm3(Form((level(0, 60), level(100, 80)))) == pytest.approx(exact, rel=1e-12)
    assert made.mesh.volume_mm3 == pytest.approx(exact, rel=5e-4)
    assert made.mesh.volume_mm3 < exact
    assert made.between_mm3 == pytest.approx(0.0, abs=1e-6)
    assert closed(made)


@pytest.mark.parametrize("count", [9, 17, 33])
def test_a_ball_comes_nearer_with_every_reading(count: int) -> None:
    """A ball read at more levels nears 4/3 π r³, and what it misses lies within the interval stated."""
    form, exact = ball(50.0, count), 4.0 / 3.0 * math.pi * 50.0**3
    made = turned(form, HERE)
    off = abs(form_volume_mm3(form) - exact)
    assert off < 0.8 * exact / count**1.5
    assert off < made.half_width_mm3
    assert closed(made)


def test_pappus_holds_for_a_smooth_vase() -> None:
    """The volume of the curve drawn is 2π times the first moment of its half section (Pappus)."""
    points = curve(table(VASE.outside), breaks(VASE.outside), steps=200)
    height, radius = points[:, 0], points[:, 1] / 2.0
    moment = integrate.simpson(radius**2 / 2.0, x=height)
    assert form_volume_mm3(VASE) == pytest.approx(2.0 * math.pi * moment, rel=5e-5)
    assert turned(VASE, HERE).mesh.volume_mm3 == pytest.approx(2.0 * math.pi * moment, rel=1e-3)


@given(
    st.lists(st.tuples(st.floats(0.5, 40.0), st.floats(5.0, 200.0)), min_size=2, max_size=12),
)
def test_the_curve_never_bulges_past_its_readings(steps: list[tuple[float, float]]) -> None:
    """Between two readings height and diameter stay between theirs, and every reading lies on the curve."""
    heights = np.concatenate([[0.0], np.cumsum([s[0] for s in steps])])[: len(steps)]
    readings = [level(float(z), s[1]) for z, s in zip(heights, steps, strict=True)]
    rows = table(readings)
    points = curve(rows, breaks(readings), steps=16)
    for k in range(len(rows) - 1):
        part = points[16 * k : 16 * k + 17]
        low, high = np.minimum(rows[k], rows[k + 1]), np.maximum(rows[k], rows[k + 1])
        assert (part >= low - 1e-9).all()
        assert (part <= high + 1e-9).all()
    assert np.allclose(points[::16], rows)


def test_an_edge_is_kept_where_it_is_marked() -> None:
    """A cylinder under a cone, its edge marked, has exactly the sum of both volumes."""
    readings = (level(0, 80), Reading(60, 80, 80, sharp=True), level(100, 20))
    exact = math.pi * (40**2 * 60 + 40.0 / 12.0 * (80**2 + 80 * 20 + 20**2))
    assert form_volume_mm3(Form(readings)) == pytest.approx(exact, rel=1e-12)
    smooth = (level(0, 80), level(60, 80), level(100, 20))
    assert form_volume_mm3(Form(smooth)) != pytest.approx(exact, rel=1e-4)


def test_a_ledge_is_two_cylinders() -> None:
    """Two diameters at one height make a step: two cylinders, exactly."""
    form = Form((level(0, 100), level(20, 100), level(20, 60), level(50, 60)))
    exact = math.pi * (50**2 * 20 + 30**2 * 30)
    assert form_volume_mm3(form) == pytest.approx(exact, rel=1e-12)
    made = turned(form, HERE)
    assert made.mesh.volume_mm3 == pytest.approx(exact, rel=1e-3)
    assert closed(made)


@pytest.mark.parametrize("exponent", [1.0, 2.0, 2.5, 4.0, 8.0])
def test_superellipse_area(exponent: float) -> None:
    """Area 4ab Γ(1+1/n)²/Γ(1+2/n) (closed form, any handbook) agrees with integration and with the ring."""
    section = Section("superellipse", exponent)
    stated = float(area_mm2(section, np.array(60.0), np.array(40.0)))
    summed, _ = integrate.quad(
        lambda x: 4.0 * 20.0 * (1.0 - (x / 30.0) ** exponent) ** (1.0 / exponent), 0, 30
    )
    assert stated == pytest.approx(summed, rel=1e-6)
    x, y = ring_mm(section, 60.0, 40.0, 0.0, 256)[:, :2].T
    drawn = 0.5 * float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum())
    assert drawn == pytest.approx(stated, rel=1e-3)
    assert np.allclose(np.abs(x / 30.0) ** exponent + np.abs(y / 20.0) ** exponent, 1.0, atol=2e-3)


def test_known_superellipses() -> None:
    """Exponent 1 is a rhombus of 2ab, 2 an ellipse of π ab."""
    one, two = (
        float(area_mm2(Section("superellipse", n), np.array(60.0), np.array(40.0))) for n in (1.0, 2.0)
    )
    assert one == pytest.approx(2.0 * 30.0 * 20.0, rel=1e-12)
    assert two == pytest.approx(math.pi * 30.0 * 20.0, rel=1e-12)


def test_rectangle_with_round_corners() -> None:
    """A rectangle with corners of radius c has an area of w d - (4 - π) c²."""
    form = Form((level(0, 60, 40), level(50, 60, 40)), section=Section("rectangle", corner_mm=8.0))
    exact = 50.0 * (60 * 40 - (4 - math.pi) * 8**2)
    made = turned(form, HERE)
    assert form_volume_mm3(form) == pytest.approx(exact, rel=1e-12)
    assert made.mesh.volume_mm3 == pytest.approx(exact, rel=1e-4)
    assert closed(made)


def test_mug_is_one_solid_of_the_sum_of_its_parts() -> None:
    """Wall, floor, foot ring, lip and handle make one closed solid, as high as it was read."""
    made = turned(MUG, HERE)
    assert closed(made)
    top = made.mesh.bounds_mm[1, 2]
    assert top == pytest.approx(92.0, abs=1e-6)
    plain = turned(replace(MUG, tubes=()), HERE)
    assert made.mesh.volume_mm3 - plain.mesh.volume_mm3 == pytest.approx(made.tubes_mm3, rel=1e-9)
    # The handle is a tube of π/4 · 15 · 9 mm²; its free length lies between chord and path.
    length = made.tubes_mm3 / (math.pi / 4.0 * 15.0 * 9.0)
    assert 60.0 < length < 100.0


def test_hollow_cylinder_with_foot_and_lip() -> None:
    """A straight tumbler: outside less inside less foot hollow, its lip half a torus (Pappus)."""
    form = Form(
        outside=(level(0, 80), level(100, 80)), inside=(level(8, 68), level(100, 68)),
        foot_inside_mm=60.0, foot_deep_mm=4.0, lip="round",
    )  # fmt: skip
    made = turned(form, HERE)
    wall = 6.0
    straight = math.pi * (40**2 * (100 - wall / 2) - 34**2 * (92 - wall / 2) - 30**2 * 4)
    lip = 2.0 * math.pi * 37.0 * (math.pi * (wall / 2) ** 2 / 2.0)
    assert made.mesh.volume_mm3 == pytest.approx(straight + lip, rel=2e-3)
    assert made.mesh.bounds_mm[1, 2] == pytest.approx(100.0, abs=0.05)
    assert closed(made)


def test_a_spout_is_open() -> None:
    """A spout with a bore lets the inside run out: the body has a hole through (genus 1)."""
    spout = replace(HANDLE, name="spout", path_mm=((38, 40), (60, 55), (75, 85)), thick_mm=15.0, bore_mm=7.0)
    solid = to_manifold(turned(replace(MUG, tubes=(spout,)), HERE).mesh)
    assert solid.genus() == 1
    shut = to_manifold(turned(replace(MUG, tubes=(replace(spout, bore_mm=0.0),)), HERE).mesh)
    assert shut.genus() == 0


@given(st.floats(0.2, 5.0))
def test_volume_grows_with_the_cube(scale: float) -> None:
    """A form read in another size has the cube of that size as its volume, doubt included."""
    form = replace(VASE, section=SQUARISH)
    large = Form(
        tuple(Reading(r.height_mm * scale, r.width_mm * scale, r.depth_mm * scale) for r in form.outside),
        section=SQUARISH,
    )
    assert form_volume_mm3(large) == pytest.approx(scale**3 * form_volume_mm3(form), rel=1e-9)


def test_the_other_way_up_is_the_same_volume() -> None:
    """A form read from its rim down has the volume of the form read from its foot up."""
    height = VASE.outside[-1].height_mm
    over = Form(tuple(level(height - r.height_mm, r.width_mm) for r in reversed(VASE.outside)))
    assert form_volume_mm3(over) == pytest.approx(form_volume_mm3(VASE), rel=1e-9)


def test_width_and_depth_swap() -> None:
    """Width and depth exchanged is the same body seen from the side."""
    one = Form((level(0, 60, 40), level(50, 80, 50), level(90, 50, 30)), section=Section("oval"))
    other = Form(tuple(level(r.height_mm, r.depth_mm, r.width_mm) for r in one.outside), section=one.section)
    assert form_volume_mm3(other) == pytest.approx(form_volume_mm3(one), rel=1e-12)


def test_round_meshes_mirror_themselves() -> None:
    """The mesh of a form is the same on both sides of both its planes, to the last digit."""
    points = turned(VASE, HERE).mesh.vertices_mm
    for axis in (0, 1):
        mirrored = points.copy()
        mirrored[:, axis] *= -1.0
        one, other = (np.unique(np.round(p, 9) + 0.0, axis=0) for p in (points, mirrored))
        assert np.array_equal(one, other)


def test_a_ledge_is_one_height() -> None:
    """Two cylinders of 60 and 90 mm on one another: what six readings leave open is by the closed form.

    Each width stands for half its cylinder, and the ledge moves as a whole: half-widths by the derivatives of
    pi/4 (d² h + D² (H - h)), squares summed.
    """
    form = Form((level(0, 60), level(50, 60), level(50, 90), level(80, 90)), reading_mm=0.4)
    quarter = np.pi / 4.0
    each = [quarter * 60 * 50, quarter * 60 * 50, quarter * 90 * 30, quarter * 90 * 30]
    heights = [quarter * (60**2 - 90**2), quarter * 90**2]
    stated = turned(form, HERE).reading_mm3
    assert stated == pytest.approx(0.4 * float(np.linalg.norm([*each, *heights])), rel=5e-3)


@pytest.mark.parametrize("form", [VASE, replace(MUG, tubes=(), lip="flat"), replace(VASE, section=SQUARISH)])
def test_the_interval_is_what_chance_gives(form: Form) -> None:
    """Readings shaken by their error (normal, 95 % within it) give volumes of which the stated half-width
    holds 95 %."""
    stated = turned(form, HERE).reading_mm3
    rng = np.random.default_rng(7)

    def shaken(readings: tuple[Reading, ...], is_inside: bool) -> tuple[Reading, ...]:
        off = rng.normal(0.0, form.reading_mm / 1.959964, (len(readings), 3))
        if form.section.kind == "round":
            off[:, 2] = off[:, 1]
        if not is_inside:
            off[0, 0] = 0.0
        return tuple(
            Reading(r.height_mm + o[0], r.width_mm + o[1], r.depth_mm + o[2])
            for r, o in zip(readings, off, strict=True)
        )

    volumes = []
    for _ in range(1500):
        foot = rng.normal(0.0, form.reading_mm / 1.959964, 2) if form.foot_deep_mm else np.zeros(2)
        one = replace(
            form, outside=shaken(form.outside, False), inside=shaken(form.inside, True),
            foot_inside_mm=form.foot_inside_mm + foot[0], foot_deep_mm=form.foot_deep_mm + foot[1],
        )  # fmt: skip
        volumes.append(form_volume_mm3(one))
    middle = form_volume_mm3(form)
    held = np.mean(np.abs(np.array(volumes) - middle) <= stated)
    # 1500 draws of 95 % scatter by 0.0056; four of those.
    assert held == pytest.approx(0.95, abs=0.0225)


def test_no_doubt_without_reading_error() -> None:
    """Readings taken as exact leave only what the curve between them leaves."""
    made = turned(replace(VASE, reading_mm=0.0), HERE)
    assert made.reading_mm3 == 0.0
    assert made.half_width_mm3 == made.between_mm3 > 0.0


WRONG = {
    "one": (Form((level(0, 60),)), "at least two"),
    "order": (Form((level(0, 60), level(40, 70), level(30, 80))), "out of order"),
    "negative": (Form((level(0, 60), level(40, -70))), "negative"),
    "above": (Form((level(5, 60), level(40, 70))), "Add a reading at height 0"),
    "twice": (Form((level(0, 60), level(40, 70), level(40, 70), level(60, 70))), "there twice"),
    "flat": (Form((level(0, 60), level(0, 70))), "no height"),
    "nothing": (Form((level(0, 0), level(10, 0))), "no reading with a diameter"),
    "thin": (replace(MUG, inside=(level(7, 48), level(45, 90), level(92, 78))), "as wide as the outside"),
    "rim": (replace(MUG, inside=(level(7, 48), level(80, 78))), "Give both a reading at the rim"),
    "floor": (replace(MUG, inside=(level(2, 48), level(92, 78))), "through the foot"),
    "foot": (replace(MUG, foot_inside_mm=70.0), "inner diameter of the foot ring"),
    "deep": (Form((level(0, 60), level(40, 70)), foot_inside_mm=40, foot_deep_mm=50), "deeper than the form"),
    "lip": (replace(MUG, outside=(*MUG.outside[:-1], level(91, 86), level(92, 86))), "round lip begins"),
    "error": (replace(VASE, reading_mm=500.0), "say nothing"),
    "kink": (
        replace(MUG, tubes=(replace(HANDLE, path_mm=((40, 60), (60, 61), (40, 62))),)),
        "cannot be drawn",
    ),
    "one_point": (replace(MUG, tubes=(replace(HANDLE, path_mm=((40, 60), (40, 60))),)), "cannot be drawn"),
}


@pytest.mark.parametrize("name", WRONG)
def test_readings_that_no_object_has(name: str) -> None:
    """Each is refused in one sentence that names the file and says what to do."""
    form, words = WRONG[name]
    with pytest.raises(InputError, match=words) as caught:
        turned(form, HERE)
    assert caught.value.remedy
    assert "\n" not in str(caught.value)


def test_a_handle_in_the_air_is_refused() -> None:
    """A handle that does not reach the body is told from one that does."""
    away = replace(HANDLE, path_mm=tuple((x + 60, z) for x, z in HANDLE.path_mm))
    with pytest.raises(CannotError, match="does not touch the body"):
        turned(replace(MUG, tubes=(away,)), HERE)


def test_fine_readings_do_not_make_a_huge_mesh() -> None:
    """Readings at every half millimetre still give a mesh of a sensible size, as near the form as before."""
    form = Form(from_curve(150.0, lambda z: 80.0 + 20.0 * math.sin(z / 30.0), 301))
    made = turned(form, HERE)
    assert len(made.mesh.faces) < 40_000
    assert made.mesh.volume_mm3 == pytest.approx(form_volume_mm3(form), rel=1e-3)
