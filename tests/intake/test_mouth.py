"""Vessels closed at the rim: the outside untouched, the rim found, the water as closed forms have it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh
from intake_shapes import (
    BOTTLE,
    TUMBLER,
    Arrays,
    bowl_profile,
    box,
    frustums_ml,
    read,
    revolved,
    volume_ml,
    write_obj,
)

from claybed.errors import InputError
from claybed.geometry.mesh import Origin
from claybed.intake.membrane import span
from claybed.records.measured import MeasuredObject, MouthReading

SIDES = 96


def _closed(path: Path, arrays: Arrays, **asked: object) -> tuple[MeasuredObject, MouthReading]:
    found = read(write_obj(path, arrays), mouth=True, **asked)
    assert found.mouth is not None
    return found, found.mouth


def _assert_outside_untouched(found: MeasuredObject, arrays: Arrays) -> None:
    """Every face that is no membrane is a face of the input, with the very same corners."""
    before = {tuple(map(tuple, c)) for c in arrays[0][arrays[1]].tolist()}
    turned = before | {t[1:] + t[:1] for t in before} | {t[2:] + t[:2] for t in before}
    kept = found.mesh.corners_mm[found.mesh.origin != Origin.MOUTH].tolist()
    assert kept and all(tuple(map(tuple, c)) in turned for c in kept)


def _finer(arrays: Arrays, longest_mm: float) -> Arrays:
    v, f = trimesh.remesh.subdivide_to_size(arrays[0], arrays[1], longest_mm)
    mesh = trimesh.Trimesh(v, f, process=True)
    return np.array(mesh.vertices), np.array(mesh.faces)


@pytest.mark.parametrize(
    ("profile", "inside", "outside", "brim_mm", "rim_r"),
    [
        (TUMBLER, [(27, 5), (35, 100)], [(30, 0), (38, 100)], 100.0, 35.0),
        (
            BOTTLE,
            [(37, 4), (37, 89), (9, 120.5), (9, 150)],
            [(40, 0), (40, 90), (12, 120), (12, 150)],
            150.0,
            9.0,
        ),
    ],
)
def test_flat_lipped_vessels(
    profile: list[tuple[float, float]],
    inside: list[tuple[float, float]],
    outside: list[tuple[float, float]],
    brim_mm: float,
    rim_r: float,
    tmp_path: Path,
) -> None:
    """A tumbler and a narrow-necked bottle must close to their outside and hold their inside."""
    arrays = revolved(profile, SIDES)
    found, mouth = _closed(tmp_path / "vessel.obj", arrays)
    _assert_outside_untouched(found, arrays)
    assert found.solid_ml == pytest.approx(frustums_ml(outside, SIDES), rel=1e-9)
    assert mouth.overflow_ml == pytest.approx(frustums_ml(inside, SIDES), rel=1e-9)
    assert mouth.closed_ml == pytest.approx(frustums_ml(inside, SIDES), rel=1e-9)
    assert mouth.brim_mm == pytest.approx(brim_mm)
    rim = np.array(mouth.rim_mm)
    assert np.hypot(rim[:, 0], rim[:, 1]) == pytest.approx(np.full(SIDES, rim_r))
    after = np.roll(rim, -1, axis=0)
    assert (rim[:, 0] * after[:, 1] - rim[:, 1] * after[:, 0]).sum() > 0


def test_round_thick_lip_is_parted_at_its_crest(tmp_path: Path) -> None:
    """The rim of a rounded lip must be the ring of its highest points."""
    arrays = revolved(bowl_profile(), SIDES)
    found, mouth = _closed(tmp_path / "bowl.obj", arrays)
    _assert_outside_untouched(found, arrays)
    rim = np.array(mouth.rim_mm)
    assert np.hypot(rim[:, 0], rim[:, 1]) == pytest.approx(np.full(SIDES, 67.0))
    assert mouth.brim_mm == pytest.approx(55.0)
    assert mouth.overflow_ml == pytest.approx(mouth.closed_ml, rel=1e-9)
    assert found.solid_ml == pytest.approx(volume_ml(arrays) + mouth.closed_ml, rel=1e-9)


def test_rough_mesh_closes_like_the_smooth_one(tmp_path: Path) -> None:
    """A bowl as a scan would give it, fine and noisy, must hold the same within 1 %, with one rim."""
    smooth = revolved(bowl_profile(), 48)
    v, f = _finer(smooth, 5.0)
    rough = (v + np.random.default_rng(1).normal(0, 0.03, v.shape), f)
    _, plain = _closed(tmp_path / "smooth.obj", smooth)
    found, mouth = _closed(tmp_path / "rough.obj", rough)
    _assert_outside_untouched(found, rough)
    assert mouth.closed_ml == pytest.approx(plain.closed_ml, rel=0.01)
    rim = np.array(mouth.rim_mm)
    assert np.abs(rim[:, 2] - 55.0).max() < 0.2


def test_spouted_jug_follows_its_rim(tmp_path: Path) -> None:
    """A lip pulled down must set the brim, and the membrane follow the uneven rim above it."""
    v, f = _finer(revolved(bowl_profile(), 48), 6.0)
    pulled = 6.0 * np.exp(-((v[:, 0] - 67) ** 2 + v[:, 1] ** 2) / 300) * np.clip((v[:, 2] - 25) / 30, 0, None)
    jug = (v - np.outer(pulled, [0, 0, 1.0]), f)
    found, mouth = _closed(tmp_path / "jug.obj", jug)
    _assert_outside_untouched(found, jug)
    rim = np.array(mouth.rim_mm)
    assert mouth.brim_mm == pytest.approx(rim[:, 2].min())
    assert mouth.brim_mm == pytest.approx(49.0, abs=0.3)
    assert rim[:, 2].max() == pytest.approx(55.0, abs=0.05)
    assert mouth.overflow_ml < 0.9 * mouth.closed_ml
    skin = found.mesh.corners_mm[found.mesh.origin == Origin.MOUTH]
    assert skin[:, :, 2].min() >= rim[:, 2].min() - 1e-9 and skin[:, :, 2].max() <= rim[:, 2].max() + 1e-9
    up = np.cross(skin[:, 1] - skin[:, 0], skin[:, 2] - skin[:, 0])[:, 2]
    assert (up > 0).all()
    # Of least area: less of it than the fan from the middle of the rim has, and more than its plan.
    spokes = rim - rim.mean(axis=0)
    fan_mm2 = 0.5 * np.linalg.norm(np.cross(spokes, np.roll(spokes, -1, axis=0)), axis=1).sum()
    sides = np.cross(skin[:, 1] - skin[:, 0], skin[:, 2] - skin[:, 0])
    assert 0.5 * up.sum() < 0.5 * np.linalg.norm(sides, axis=1).sum() < fan_mm2


def test_membrane_is_a_minimal_surface() -> None:
    """Spanned over the edge of Scherk's surface, which has least area, the membrane must be that surface."""
    # z = log(cos x / cos y), H. F. Scherk 1834; a membrane that is merely harmonic is five times farther off.
    t = np.linspace(-1.2, 1.2, 41)[:-1]
    side = np.full(40, 1.2)
    x, y = np.concatenate([t, side, -t, -side]), np.concatenate([-side, t, side, -t])
    loop = 10 * np.column_stack([x, y, np.log(np.cos(x) / np.cos(y))])
    spanned = span(loop, np.array([0.0, 0.0, 1.0]))
    assert spanned is not None
    points, faces = spanned
    assert len(points) > 300
    assert len(faces) == len(loop) + 2 * len(points) - 2
    off = points[:, 2] - 10 * np.log(np.cos(points[:, 0] / 10) / np.cos(points[:, 1] / 10))
    assert np.abs(off).max() < 0.01 * np.ptp(loop[:, 2])


def test_membrane_refuses_a_loop_that_crosses_itself() -> None:
    """A loop that crosses itself seen from above has no height field over it."""
    eight = np.array([[0.0, 0, 0], [10, 10, 1], [10, 0, 0], [0, 10, 1]])
    assert span(eight, np.array([0.0, 0.0, 1.0])) is None


def test_overflow_of_a_tilted_tumbler(tmp_path: Path) -> None:
    """On a slant, a vessel must hold what lies below the lowest point of its rim, counted another way."""
    arrays = revolved(TUMBLER, SIDES)
    slant = trimesh.transformations.rotation_matrix(0.25, [1, 0, 0])[:3, :3]
    v, f = _finer((arrays[0] @ slant.T, arrays[1]), 6.0)
    _, mouth = _closed(tmp_path / "slant.obj", (v, f))
    # What an upright inside holds below a slanted plane, summed over slices across the axis.
    up = slant[2]
    z = np.linspace(5, 100, 400)
    z = 0.5 * (z[1:] + z[:-1])
    angle = (np.arange(720) + 0.5) * 2 * np.pi / 720
    share = (np.arange(200) + 0.5) / 200
    radius = 27 + 8 * (z - 5) / 95
    held = 0.0
    for height, r in zip(z, radius, strict=True):
        rr = r * np.sqrt(share)[:, None]
        below = up[0] * rr * np.cos(angle) + up[1] * rr * np.sin(angle) + up[2] * height < mouth.brim_mm
        held += float(below.mean()) * np.pi * r * r * (95 / 399) / 1000
    assert mouth.overflow_ml == pytest.approx(held, rel=5e-3)
    assert mouth.overflow_ml < 0.95 * mouth.closed_ml


def test_handle_survives(tmp_path: Path) -> None:
    """A mug must keep its handle: genus one before and after."""
    cup = trimesh.Trimesh(*revolved(TUMBLER, 48))
    ring = trimesh.creation.torus(22.0, 5.0, major_sections=48, minor_sections=24)
    ring.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2, [1, 0, 0]))
    ring.apply_translation([50.0, 0.0, 50.0])
    inside = trimesh.Trimesh(*revolved([(0, 5), (27, 5), (35 + 8 * 6 / 95, 106), (0, 106)], 48))
    mug = trimesh.boolean.union([cup, trimesh.boolean.difference([ring, inside])])
    found, mouth = _closed(tmp_path / "mug.obj", (np.array(mug.vertices), np.array(mug.faces)))
    closed = trimesh.Trimesh(found.mesh.vertices_mm, found.mesh.faces, process=False)
    assert closed.euler_number == 0 and closed.is_watertight
    assert mouth.closed_ml == pytest.approx(frustums_ml([(27, 5), (35, 100)], 48), rel=1e-6)


@pytest.mark.parametrize(("axis", "name"), [((0.0, 1.0, 0.0), "y"), ((-1.0, 0.0, 0.0), "-x")])
def test_another_way_up_is_found_and_said(
    axis: tuple[float, float, float], name: str, tmp_path: Path
) -> None:
    """A vessel that opens along another axis must be closed there, say so, and take its height there."""
    v, f = revolved(BOTTLE, 48)
    turn = trimesh.geometry.align_vectors([0, 0, 1], axis)[:3, :3]
    found, mouth = _closed(tmp_path / "lying.obj", (v @ turn.T, f), height_mm=75.0)
    assert mouth.up == axis
    told = next(finding for finding in found.findings if finding.id == "up_assumed")
    assert f"along {name}," in told.says
    assert float(np.ptp(found.mesh.vertices_mm @ np.array(axis))) == pytest.approx(75.0)
    inside = frustums_ml([(37, 4), (37, 89), (9, 120.5), (9, 150)], 48)
    assert mouth.overflow_ml == pytest.approx(inside / 8, rel=1e-6)


def test_sheet_vessel_takes_its_open_rim(tmp_path: Path) -> None:
    """A vessel drawn without thickness must close at its rim, marked as the mouth."""
    found, mouth = _closed(tmp_path / "sheet.obj", revolved([(0, 0), (30, 0), (38, 100)], SIDES))
    assert found.solid_ml == pytest.approx(frustums_ml([(30, 0), (38, 100)], SIDES), rel=1e-9)
    assert mouth.overflow_ml == pytest.approx(found.solid_ml, rel=1e-6)
    assert mouth.brim_mm == pytest.approx(100.0)
    assert (found.mesh.origin == Origin.MOUTH).any() and not (found.mesh.origin == Origin.MEND).any()
    assert "sheet_vessel" in [f.id for f in found.findings]


def test_solid_has_no_mouth(tmp_path: Path) -> None:
    """A solid object must be refused with what to do."""
    with pytest.raises(InputError, match="no opening to close"):
        _closed(tmp_path / "block.obj", box((40, 40, 40)))


def test_a_drain_hole_is_named_with_the_option_that_closes_it(tmp_path: Path) -> None:
    """A planter that holds no water is refused with what lets it out, and the option given leads on."""
    pot = trimesh.Trimesh(*revolved(TUMBLER, 48))
    low, high = pot.bounds[:, 2]
    bore = trimesh.creation.cylinder(
        5.0, (high - low) / 2.0, transform=trimesh.transformations.translation_matrix([0, 0, low])
    )
    pierced = trimesh.boolean.difference([pot, bore])
    assert pierced.euler_number == pot.euler_number - 2
    arrays = (np.array(pierced.vertices), np.array(pierced.faces))
    with pytest.raises(InputError, match="1 hole through its wall") as refused:
        _closed(tmp_path / "planter.obj", arrays)
    assert "a: 10 mm wide, in the floor, in the middle" in refused.value.what
    assert "Add --close-holes:" in refused.value.remedy
    found, _ = _closed(tmp_path / "planter.obj", arrays, close_holes=True)
    assert found.solid_ml == pytest.approx(frustums_ml([(30, 0), (38, 100)], 48), rel=1e-9)
    assert [hole.mark for hole in found.holes] == ["a"]
    assert "holes_closed" in [finding.id for finding in found.findings]


def test_spout_is_a_second_opening(tmp_path: Path) -> None:
    """A pot with a spout must be refused, its opening named by place; closed, it is a solid with one hole to
    cut.
    """
    at = trimesh.transformations.translation_matrix([50, 0, 50])
    lean = trimesh.transformations.rotation_matrix(0.9, [0, 1, 0])
    pot = trimesh.Trimesh(*revolved(BOTTLE, 48))
    pipe = trimesh.creation.cylinder(8.0, 60.0, transform=at @ lean)
    bore = trimesh.creation.cylinder(6.0, 90.0, transform=at @ lean)
    spouted = trimesh.boolean.difference([trimesh.boolean.union([pot, pipe]), bore])
    arrays = (np.array(spouted.vertices), np.array(spouted.faces))
    with pytest.raises(InputError, match="1 hole through its wall"):
        _closed(tmp_path / "pot.obj", arrays)
    found, _ = _closed(tmp_path / "pot.obj", arrays, close_holes=True)
    assert len(found.holes) == 1
    # The spout's axis leans 0.9 rad from (50, 50) and its tip is 30 mm along it.
    tip = np.array([50 + 30 * np.sin(0.9), 0.0, 50 + 30 * np.cos(0.9)])
    assert np.linalg.norm(np.array(found.holes[0].at_mm) - tip) < 8.0


def test_two_insides_are_refused(tmp_path: Path) -> None:
    """Two cups on one bar must be refused: there is no telling which mouth is meant."""
    v, f = revolved(TUMBLER, 48)
    parts = [trimesh.Trimesh(v, f), trimesh.Trimesh(v + np.array([90, 0, 0]), f)]
    parts.append(trimesh.creation.box((40, 10, 20), trimesh.transformations.translation_matrix([45, 0, 20])))
    twins = trimesh.boolean.union(parts)
    with pytest.raises(InputError, match="2 insides"):
        _closed(tmp_path / "twins.obj", (np.array(twins.vertices), np.array(twins.faces)))
