"""A rough scan made a clean object, step by step, each step told and each optional."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from claybed.errors import InputError
from claybed.geometry.mesh import Mesh, Origin
from claybed.intake.clean import drop_degenerate
from claybed.intake.mending import Mended, mend
from claybed.intake.orient import orient
from claybed.intake.remesh import drawn_anew
from claybed.intake.skin import Skin, areas_of, parts_of
from claybed.intake.smoothing import smoothed, thinned_out
from claybed.intake.soup import Points
from claybed.intake.table import Table, cut_off, find_table, share_of_plane
from claybed.intake.weld import weld_equal
from claybed.records.finding import Finding
from claybed.records.measured import Repair
from claybed.records.tidying import Wishes
from claybed.units import say_count

Progress = Callable[[str, float], None]
SCRAP_SHARE: Final = 0.005
GAP_SHARE: Final = 0.01
FLAT_SHARE: Final = 0.004
ASKED_OF_A_PART: Final = 4_000
NOISES: Final = 4.0
UPRIGHT: Final = math.cos(math.radians(15.0))
BEHIND_SHARE: Final = 0.02  # of the size, by which a foot may rise past the middle of the hole in it
OPEN_SHARE: Final = 0.002  # of the surface, under which ways of closing it are not compared
COMPARED_AT: Final = 80  # cells: volumes of half the usual fineness lay within 0.3 % of it on a scanned vase
BASE_SHARE: Final = 0.02  # of the surface, from which a flat closed hole is the side it stood on


@dataclass(frozen=True, slots=True, eq=False)
class Tidied:
    """A closed mesh, z up, standing on z = 0, and how it came about.

    `closing_mm3` how much two ways of closing its holes differ, 0 when nothing was open; `mended_mm2` of the
    surface that was not scanned; `up_how` how up was found; `findings` as placed in the file; `turn` (3, 3)
    and then `shift_mm` (3,) carry the file's points to the mesh's.
    """

    mesh: Mesh
    steps: tuple[Repair, ...]
    findings: tuple[Finding, ...]
    closing_mm3: float
    mended_mm2: float
    up_how: str
    turn: Points
    shift_mm: Points


def tidy(vertices_mm: Points, faces: np.ndarray, wishes: Wishes, where: str, progress: Progress) -> Tidied:
    """Tidy a scan: triangles (n, 3) mm and (m, 3) in, one solid out.

    `progress` is told "tidying", "mending", "comparing" and "smoothing". Raises InputError when nothing is
    left, or no
    solid can be made.
    """
    progress("tidying", 0.0)
    skin = Skin.of(*weld_equal(vertices_mm, faces)).trimmed()
    skin, _ = drop_degenerate(skin)
    if len(skin.faces) < 4:
        raise InputError("has too few triangles to be an object.", where=where, remedy="Scan it again.")
    skin, _ = orient(skin)
    steps: list[Repair] = []
    table = _table_of(skin, wishes, steps)
    if table is not None:
        skin = _off_the_table(skin, table, wishes, where, steps)
    progress("tidying", 0.5)
    if wishes.scraps:
        skin = _main(skin, steps)
    progress("tidying", 1.0)
    opened = skin
    mended = mend(skin.vertices, skin.faces, wishes.body, where, progress)
    steps += mended.repairs
    closed = mended.skin
    mended_mm2 = float(areas_of(closed.vertices, closed.faces)[closed.origin == int(Origin.MEND)].sum())
    whole_mm2 = float(areas_of(closed.vertices, closed.faces).sum())
    progress("comparing", 0.0)
    closing_mm3 = _closing(opened, mended) if mended_mm2 > OPEN_SHARE * whole_mm2 else 0.0
    progress("smoothing", 0.0)
    closed = _smooth(closed, wishes, steps)
    closed = _thin(closed, wishes, steps)
    up, how = _up_of(closed, table, wishes)
    steps.append(Repair("stand", 1, 0.0, "mm", f"Stood it up: {how}."))
    progress("smoothing", 1.0)
    mesh, turn, shift_mm = _stood(closed, up)
    return Tidied(mesh, tuple(steps), mended.findings, closing_mm3, mended_mm2, how, turn, shift_mm)


def _table_of(skin: Skin, wishes: Wishes, steps: list[Repair]) -> Table | None:
    if not wishes.table:
        return None
    table = find_table(skin)
    if table is None:
        steps.append(Repair("no_table", 0, 0.0, "mm2", "Found no table under it."))
    return table


def _off_the_table(skin: Skin, table: Table, wishes: Wishes, where: str, steps: list[Repair]) -> Skin:
    clear_mm = max(wishes.clear_mm, NOISES * table.noise_mm)
    cut = cut_off(skin, table.up, table.level_mm + clear_mm, table.level_mm)
    if len(cut.faces) < 4:
        raise InputError(
            "is a table with nothing on it.", where=where, remedy="Scan the object, or say --keep-table."
        )
    gone = len(skin.faces) - len(cut.faces)
    says = (
        f"Cut away the table ({table.area_mm2 / 100.0:,.0f} cm², scanned {table.noise_mm:.2f} mm rough) and "
        f"all within {clear_mm:.1f} mm of it; the rim there was carried down to the table."
    )
    steps.append(Repair("cut_table", max(gone, 0), table.area_mm2, "mm2", says))
    return cut


def _main(skin: Skin, steps: list[Repair]) -> Skin:
    """The object alone: the largest part that is no plane, and parts that lie right beside it."""
    count, part = parts_of(skin.faces, len(skin.vertices))
    if count == 1:
        return skin
    area = np.bincount(part, areas_of(skin.vertices, skin.faces), minlength=count)
    order = np.argsort(-area)
    first = next((k for k in order if share_of_plane(skin.kept(part == k)) > FLAT_SHARE), order[0])
    tree = cKDTree(skin.kept(part == first).trimmed().vertices)
    gap_mm = GAP_SHARE * skin.kept(part == first).size_mm
    keep = np.zeros(count, bool)
    keep[first] = True
    for k in order:
        if k == first or area[k] < SCRAP_SHARE * area[first]:
            continue
        points = skin.kept(part == k).trimmed().vertices
        # Half of it within the gap, asked of some and no further than that: a wall is many points far away.
        points = points[:: max(1, len(points) // ASKED_OF_A_PART)]
        near, _ = tree.query(points, distance_upper_bound=gap_mm)
        keep[k] = bool(np.isfinite(near).mean() >= 0.5)
    dropped = int((~keep).sum())
    if dropped:
        lost = float(area[~keep].sum())
        says = f"Dropped {say_count(dropped, 'loose part')} beside it, {lost / 100.0:.3g} cm² of surface."
        steps.append(Repair("drop_scrap", dropped, lost, "mm2", says))
    return skin.kept(keep[part]).trimmed()


def _closing(opened: Skin, mended: Mended) -> float:
    """How far a surface drawn smoothly across the holes encloses more or less than the caps do, mm³."""
    drawn = drawn_anew(opened, COMPARED_AT)
    if drawn is None:
        return 0.0
    return abs(drawn[0].mesh().volume_mm3 - mended.skin.mesh().volume_mm3)


def _smooth(skin: Skin, wishes: Wishes, steps: list[Repair]) -> Skin:
    if wishes.smooth_mm <= 0.0:
        return skin
    new, most_mm = smoothed(skin, wishes.smooth_mm)
    says = f"Smoothed noise; no point moved by more than {most_mm:.2g} mm."
    steps.append(Repair("smooth", len(skin.vertices), most_mm, "mm", says))
    return new


def _thin(skin: Skin, wishes: Wishes, steps: list[Repair]) -> Skin:
    if not 0 < wishes.most_faces < len(skin.faces):
        return skin
    thinner = thinned_out(skin, wishes.most_faces)
    if thinner is None:
        says = f"Kept all {len(skin.faces):,} triangles: with fewer it would be no solid."
        steps.append(Repair("decimate", 0, 0.0, "mm", says))
        return skin
    new, off_mm = thinner
    says = f"Left {len(new.faces):,} of {len(skin.faces):,} triangles, at most {off_mm:.2g} mm off."
    steps.append(Repair("decimate", len(skin.faces) - len(new.faces), off_mm, "mm", says))
    return new


def _up_of(skin: Skin, table: Table | None, wishes: Wishes) -> tuple[Points, str]:
    if wishes.up is not None:
        up = np.asarray(wishes.up, np.float64)
        return up / np.linalg.norm(up), "up as asked"
    if table is not None:
        return table.up, "up is away from the table"
    area = areas_of(skin.vertices, skin.faces)
    outward = _largest_mend(skin)
    length = float(np.linalg.norm(outward))
    if length > BASE_SHARE * float(area.sum()):
        up = -outward / length
        if float(up[2]) > UPRIGHT:  # scans are mostly saved upright, and the rim of a hole is a poor level
            return np.array([0.0, 0.0, 1.0]), "up is z, as in the file, and away from the side not scanned"
        return up, "up is away from the side that was not scanned"
    return np.array([0.0, 0.0, 1.0]), "up is z, as in the file"


def _largest_mend(skin: Skin) -> Points:
    """The area vector of the largest closed hole that the whole object lies behind, (3,) mm²; zero for none.

    The floor inside a pot may be a larger hole than its foot, but nothing stands on it.
    """
    mends = skin.faces[skin.origin == int(Origin.MEND)]
    if len(mends) == 0:
        return np.zeros(3)
    corners = skin.vertices[mends]
    vectors = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]) / 2.0
    count, part = parts_of(mends, len(skin.vertices))
    sums = np.stack([np.bincount(part, vectors[:, k], minlength=count) for k in range(3)], axis=1)
    size = np.linalg.norm(sums, axis=1)
    for k in np.argsort(-size)[:8]:
        if not size[k] > 0.0:
            break
        out = sums[k] / size[k]
        level = float(corners[part == k].mean(axis=(0, 1)) @ out)
        behind = skin.vertices @ out < level + BEHIND_SHARE * skin.size_mm
        if float(behind.mean()) > 0.97:
            found: Points = sums[k]
            return found
    return np.zeros(3)


def _stood(skin: Skin, up: Points) -> tuple[Mesh, Points, Points]:
    """The skin turned so that `up` is z, its foot at z = 0 and its middle over the origin; with the turn
    (3, 3) and the shift (3,) mm that carry the file's points there.
    """
    lead = np.array([1.0, 0.0, 0.0]) if abs(up[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    if math.isclose(float(up[2]), 1.0, abs_tol=1e-12):
        turn = np.eye(3)
    else:
        x = lead - (lead @ up) * up
        x /= np.linalg.norm(x)
        turn = np.stack([x, np.cross(up, x), up])
    points = skin.vertices @ turn.T
    low, high = points.min(axis=0), points.max(axis=0)
    shift = -np.array([(low[0] + high[0]) / 2.0, (low[1] + high[1]) / 2.0, low[2]])
    return replace(skin, vertices=points + shift).mesh(), turn, shift


def placed(
    findings: tuple[Finding, ...], turn: Points, shift_mm: Points, factor: float
) -> tuple[Finding, ...]:
    """Findings whose places (the file's, mm) are carried to an object that was turned, shifted and scaled."""
    moved = []
    for finding in findings:
        if finding.at_mm is None:
            moved.append(finding)
            continue
        x, y, z = (float(c) for c in (np.array(finding.at_mm) @ turn.T + shift_mm) * factor)
        near = f"near {x:z.0f}, {y:z.0f}, {z:z.0f} mm"
        where = near if finding.where.startswith("near ") else finding.where
        moved.append(replace(finding, where=where, at_mm=(x, y, z)))
    return tuple(moved)
