"""A ring of pictures to the hull of their outlines: bad ones left out and named, and how well it is known."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Final, TypeVar

import cv2
import numpy as np

from claybed.errors import CannotError, InputError
from claybed.geometry.mesh import Floats
from claybed.photos.camera import Camera
from claybed.photos.hull import Hull, carve_hull, views_of, wrong_pictures
from claybed.photos.lens import settle_together
from claybed.photos.outline import FINE_SIDE_PX, Outline
from claybed.photos.picture import open_picture
from claybed.photos.shot import PrintScale, Shot, aim, outline_of, scale_finding
from claybed.photos.turned import height_finding
from claybed.records.figure import Figure
from claybed.records.finding import Amount, Finding
from claybed.records.measured import Repair
from claybed.records.measuring import Measuring, VolumeBand
from claybed.records.object_file import ObjectFile

Progress = Callable[[str, float], None]
Got = TypeVar("Got")
FEWEST: Final = 8
MOST: Final = 36
LEAST_USABLE: Final = 6
WIDE_GAP_DEG: Final = 40.0
_TOP_SLACK_MM: Final = 2.0
_OUTWARD: Final = 1.3  # of the clear space, that an object may lean over
_EDGE_PX: Final = 0.7
_WORKERS: Final = 2


@dataclass(frozen=True, slots=True)
class Source:
    """A picture to come: its name, and what reads its bytes; an outline that a person gave, (n, 2) pixels of
    the upright file; and whether a person took it out.
    """

    name: str
    read: Callable[[], bytes]
    points_px: Floats | None = None
    taken_out: bool = False


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A picture that was not used, and why; its `place` among those that came, and whether a person wished
    it so.
    """

    name: str
    why: str
    place: int
    wished: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Ring:
    """The pictures that were used, with their outlines, and those left out.

    `places` tells where the former stood among those that came. `aside` are those of the latter whose mat was
    found, by place, with the outline where there is one.
    """

    shots: tuple[Shot, ...]
    outlines: tuple[Outline, ...]
    left_out: tuple[LeftOut, ...]
    places: tuple[int, ...]
    aside: tuple[tuple[int, Shot, Outline | None], ...] = ()


def read_ring(sources: Sequence[Source], scale: PrintScale, progress: Progress) -> Ring:
    """Open, aim and outline all pictures, and leave out those that the others speak against.

    Raises InputError for fewer than 8 or more than 36 pictures, or pictures of different mats; CannotError
    when fewer than 6 can be used, with the reasons.
    """
    if not FEWEST <= len(sources) <= MOST:
        raise InputError(
            f"takes {FEWEST} to {MOST} pictures, not {len(sources)}.",
            where="photos",
            remedy="Fifteen round the object are good; for one or two use claybed object photo.",
        )
    left_out = [LeftOut(s.name, "was taken out", k, True) for k, s in enumerate(sources) if s.taken_out]
    wanted = [k for k, source in enumerate(sources) if not source.taken_out]
    shots: dict[int, Shot] = {}
    outlines: dict[int, Outline] = {}
    with ThreadPoolExecutor(_WORKERS) as workers:
        aimed = workers.map(lambda k: _try(lambda: _aimed(sources[k], scale), sources[k].name, k), wanted)
        for k, got in zip(wanted, aimed, strict=True):
            if isinstance(got, LeftOut):
                left_out.append(got)
            else:
                shots[k] = got
            progress("reading photos", (k + 1) / len(sources))
        shots = _of_one_mat(shots, left_out)
        shots = dict(zip(shots, _settled(list(shots.values())), strict=True))
        _enough(shots, left_out)

        def lined(k: int) -> Outline | LeftOut:
            name = sources[k].name
            return _try(lambda: outline_of(shots[k], sources[k].points_px, name), name, k)

        for done, (k, outline) in enumerate(zip(shots, workers.map(lined, shots), strict=True), 1):
            if isinstance(outline, LeftOut):
                left_out.append(outline)
            else:
                outlines[k] = outline
            progress("drawing outlines", done / len(shots))
    kept = list(outlines)
    _enough(kept, left_out)
    progress("comparing outlines", 0.0)
    lines = list(outlines.values())
    wrong = {
        kept[j]: why for j, why in wrong_pictures(views_of(lines), lines, reach_of([shots[k] for k in kept]))
    }
    left_out += [LeftOut(sources[k].name, f"has an outline that {why}", k) for k, why in wrong.items()]
    good = [k for k in kept if k not in wrong]
    _enough(good, left_out)
    return Ring(
        tuple(shots[k] for k in good),
        tuple(outlines[k] for k in good),
        tuple(left_out),
        tuple(good),
        tuple((k, shots[k], outlines.get(k)) for k in shots if k not in good),
    )


def ring_object(
    ring: Ring, scale: PrintScale, *, name: str, mass_g: float | None = None, height_mm: float | None = None,
    progress: Progress,
) -> ObjectFile:  # fmt: skip
    """The hull of a ring's outlines as an object; `height_mm` measured with a ruler cuts it there.

    Raises CannotError when the outlines leave nothing.
    """
    cameras = [o.camera for o in ring.outlines]
    hull = carve_hull(
        views_of(ring.outlines), cameras, reach_of(ring.shots), height_mm=height_mm, progress=progress
    )
    found_mm = float(hull.mesh.bounds_mm[1, 2])
    band, shares = _band(hull, cameras, scale)
    volume_ml = hull.mesh.volume_mm3 / 1000.0
    x, y, z = (float(s) for s in np.ptp(hull.mesh.vertices_mm, axis=0))
    findings = [*_findings(ring, hull), *scale_finding(scale)]
    if height_mm is not None:
        findings += height_finding(found_mm, height_mm)
    count = len(ring.shots)
    says = (
        f"The hull of its outlines in {count} photos: the object lies inside it, and is at most "
        f"{100 * band.smaller_share:.0f} % smaller if it has no hollows, "
        f"{100 * band.larger_share:.1f} % larger."
    )
    return ObjectFile(
        name=name,
        measuring=Measuring("hull", says, band, cannot_tell=cannot_tell(hull)),
        volume_ml=volume_ml,
        mesh=hull.mesh,
        extent_mm=(x, y, z),
        mass_g=mass_g,
        steps=(
            Repair("mat", count, scale.ratio * 100.0, "percent", scale.says),
            Repair(
                "carve",
                count,
                hull.spacing_mm,
                "mm",
                f"Carved by {count} outlines on a grid of {hull.spacing_mm:.2f} mm.",
            ),
        ),
        findings=tuple(findings),
        working={
            "/volume_ml": Figure(
                "ml",
                "signed tetrahedra over the hull / 1000; smaller by section_share or half_share, the larger, "
                "and top_share, with the measuring; larger by the measuring",
                "derived",
                shares,
                volume_ml * (1.0 - band.smaller_share),
                volume_ml * (1.0 + band.larger_share),
            )
        },
    )


def cannot_tell(hull: Hull) -> tuple[str, ...]:
    """What no outline shows, named."""
    out = [
        "Outlines show no hollows: a mouth's inside, dimples and grooves across the view are filled up here.",
        "The foot is taken as flat on the mat: a foot ring or a hollow under it does not show.",
    ]
    if hull.top_slack_mm > _TOP_SLACK_MM:
        out.append(
            "The cameras looked down on the top: if it is flat, it lies up to "
            f"{hull.top_slack_mm:.0f} mm lower than drawn."
        )
    return tuple(out)


def reach_of(shots: Sequence[Shot]) -> tuple[float, float]:
    """How far from the mat's middle an object may reach, along x and y, mm."""
    return shots[0].mat.clear_x_mm * _OUTWARD, shots[0].mat.clear_y_mm * _OUTWARD


def _try(work: Callable[[], Got], name: str, place: int) -> Got | LeftOut:
    try:
        return work()
    except (InputError, CannotError) as reason:
        return LeftOut(name, reason.what.rstrip("."), place)


def _aimed(source: Source, scale: PrintScale) -> Shot:
    """A shot with its picture shrunk to what the outline needs, so that a ring fits into memory."""
    shot = aim(open_picture(source.read(), source.name), scale)
    picture = shot.picture
    factor = FINE_SIDE_PX / max(picture.size_px)
    if factor >= 1.0:
        return shot
    small = cv2.resize(picture.rgb, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    factor = small.shape[1] / picture.rgb.shape[1]
    lens = shot.camera.lens
    scaled = replace(lens.scaled(factor), k1_ratio=lens.k1_ratio, k2_ratio=lens.k2_ratio)
    seen = replace(
        shot.seen, corners_px=(shot.seen.corners_px + 0.5) * factor - 0.5, edge_px=shot.seen.edge_px * factor
    )
    focal = picture.focal_px * factor if picture.focal_px is not None else None
    return Shot(
        replace(
            picture,
            rgb=np.ascontiguousarray(small, np.uint8),
            shrunk_factor=picture.shrunk_factor / factor,
            focal_px=focal,
        ),
        seen,
        shot.mat,
        replace(shot.posed, camera=replace(shot.camera, lens=scaled), rms_px=shot.posed.rms_px * factor),
    )


def _of_one_mat(shots: dict[int, Shot], left_out: list[LeftOut]) -> dict[int, Shot]:
    if not shots:
        return shots
    papers = [shot.seen.paper for shot in shots.values()]
    paper = max(set(papers), key=papers.count)
    for k, shot in shots.items():
        if shot.seen.paper != paper:
            why = f"shows the {shot.seen.paper.upper()} mat, not the {paper.upper()}"
            left_out.append(LeftOut(shot.picture.name, why, k))
    return {k: shot for k, shot in shots.items() if shot.seen.paper == paper}


def _settled(shots: list[Shot]) -> list[Shot]:
    """Pictures of one camera given one lens."""
    groups: dict[tuple[str, tuple[int, int]], list[int]] = {}
    for k, shot in enumerate(shots):
        groups.setdefault((shot.picture.camera, shot.picture.size_px), []).append(k)
    out = list(shots)
    for (_, size_px), members in groups.items():
        points: list[Floats] = [shots[k].seen.points_mm(shots[k].mat).reshape(-1, 3) for k in members]
        pixels: list[Floats] = [shots[k].seen.corners_px.reshape(-1, 2) for k in members]
        for k, posed in zip(
            members, settle_together([shots[k].posed for k in members], points, pixels, size_px), strict=True
        ):
            out[k] = replace(shots[k], posed=posed)
    return out


def _enough(usable: Collection[object], left_out: Sequence[LeftOut]) -> None:
    if len(usable) >= LEAST_USABLE:
        return
    reasons = "; ".join(f"{one.name} {one.why}" for one in left_out[:4])
    more = f"; and {len(left_out) - 4} more" if len(left_out) > 4 else ""
    raise CannotError(
        f"only {len(usable)} of {len(usable) + len(left_out)} pictures can be used, and a hull needs "
        f"{LEAST_USABLE} ({reasons}{more}).",
        where="photos",
        remedy="Take those again, or add others from round the object.",
    )


def _band(
    hull: Hull, cameras: Sequence[Camera], scale: PrintScale
) -> tuple[VolumeBand, dict[str, float | str]]:
    """How far the volume may be off, to either side, and the shares it is made of.

    The excess of k views falls as 1 / k², so what half the views leave above all of them is three times what
    all of them leave: (half - whole) / 3. A round section gives a floor for it.
    """
    volume = hull.mesh.volume_mm3
    half = max(0.0, hull.half_mm3 / volume - 1.0) / 3.0
    points = hull.mesh.vertices_mm
    level = points[points[:, 2] > points[:, 2].max() - hull.top_slack_mm - 2.0]
    radius = float(np.ptp(level[:, :2], axis=0).mean()) / 2.0
    top = np.pi * radius**2 * hull.top_slack_mm / 3.0 / volume
    pixel_mm = float(np.median([np.linalg.norm(c.eye_mm) / c.lens.focal_px for c in cameras]))
    edge = _EDGE_PX * pixel_mm * hull.mesh.area_mm2 / volume / np.sqrt(len(cameras))
    measured = float(np.hypot(3.0 * scale.spread_share, edge))
    excess = min(max(hull.excess_share, half), 0.9)
    smaller = float(min(0.95, excess / (1.0 + excess) + top + measured))
    shares: dict[str, float | str] = {
        "section_share": float(min(hull.excess_share, 0.9)),
        "half_share": half,
        "top_share": float(top),
        "measuring_share": measured,
        "views": float(len(cameras)),
    }
    return VolumeBand(smaller, measured), shares


def _findings(ring: Ring, hull: Hull) -> list[Finding]:
    out = [
        Finding(
            "photo_left_out",
            "look",
            one.name,
            f"{one.name} {one.why}, and was left out.",
            "Take it again if its side matters.",
        )
        for one in ring.left_out
        if not one.wished
    ]
    if hull.widest_gap_deg > WIDE_GAP_DEG:
        out.append(
            Finding(
                "wide_gap",
                "look",
                "round the object",
                f"Between two neighbouring directions of view there are {hull.widest_gap_deg:.0f}°, "
                "and the hull bulges there.",
                "Add pictures from between; an odd number spread evenly does most.",
                Amount(hull.widest_gap_deg, "deg"),
            )
        )
    if hull.top_slack_mm > _TOP_SLACK_MM:
        out.append(
            Finding(
                "top_unseen",
                "look",
                "the top",
                "No picture was taken from low enough: a flat top would lie up to "
                f"{hull.top_slack_mm:.0f} mm lower.",
                "Add two or three pictures from the height of the top, or measure it and add --height.",
                Amount(hull.top_slack_mm, "mm"),
            )
        )
    return out
