"""A vessel closed at its rim, so that it can be molded from outside."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely

from claybed.errors import CannotError, InputError
from claybed.geometry.mesh import Origin
from claybed.intake.basin import largest_basin
from claybed.intake.bores import Bore, find_bores
from claybed.intake.caps import Rim, rims_of
from claybed.intake.crest import inside_faces
from claybed.intake.hole_places import listed, placed
from claybed.intake.membrane import span
from claybed.intake.planes import plane_axes
from claybed.intake.skin import Skin, used_points
from claybed.intake.solidity import judge, kernel
from claybed.intake.soup import Points
from claybed.intake.wall_holes import at_rim, close_holes
from claybed.records.brief import Vector
from claybed.records.finding import Finding
from claybed.records.measured import HollowReading, MouthReading, WallHole
from claybed.units import say_count

SHEET_RIM_DEPTH = 0.2  # of the height: how far below the top the rim of a sheet vessel may lie
SHEET_RIM_PART = 0.05  # of the plan area: the least a sheet vessel's rim may enclose
LEAST_FULL = 0.6  # of the inside that an upright vessel holds before it overflows
OVERHANG = 1e-3  # sine of the slope below which a face is upright but for the rounding of its file
LEAST_UPRIGHT = 0.7  # cosine between up and the rim's own normal
SIX_WAYS: tuple[Vector, ...] = (
    (0.0, 0.0, 1.0),
    (0.0, 1.0, 0.0),
    (1.0, 0.0, 0.0),
    (0.0, 0.0, -1.0),
    (0.0, -1.0, 0.0),
    (-1.0, 0.0, 0.0),
)
WAY_NAMES = ("z", "y", "x", "-z", "-y", "-x")


@dataclass(frozen=True, slots=True, eq=False)
class Closed:
    """The outside of a vessel with a membrane over its rim, one solid; faces of the membrane carry
    Origin.MOUTH.
    """

    skin: Skin
    reading: MouthReading
    findings: tuple[Finding, ...]
    holes: tuple[WallHole, ...] = ()


def close_mouth(skin: Skin, up: Vector, where: str, *, inside: bool = False, holes: bool = False) -> Closed:
    """Take the inside of a closed vessel away up to the crest of its rim and span the rim; with `inside`,
    keep that inside instead, as the solid that fills it. With `holes`, holes through its wall are closed
    first, flush with both its sides.

    What is kept keeps its points and faces as they are. When no mouth opens squarely along `up` but one does
    along exactly one other of the six axes, that one is used and said. Raises InputError for no opening,
    several, or one that cannot be spanned; where closing its holes would help, with the holes and how.
    """
    try:
        return _close(skin, up, where, inside, holes=holes)
    except (InputError, CannotError) as reason:
        found = () if holes else holes_of(skin, up, where, inside=inside)
        if not found:
            raise
        raise _pierced(found, where) from reason


def holes_of(skin: Skin, up: Vector, where: str, *, inside: bool = False) -> tuple[WallHole, ...]:
    """The holes through a vessel's wall with which closed its mouth can be closed; none where it cannot."""
    if _rings_through(skin) == 0:
        return ()
    try:
        return _close(skin, up, where, inside, holes=True).holes
    except (InputError, CannotError):
        return ()


def _close(skin: Skin, up: Vector, where: str, inside: bool, *, holes: bool) -> Closed:
    direction = np.asarray(up, np.float64)
    direction = direction / np.linalg.norm(direction)
    # Edged holes first: a rounded rim is looked for only where they are not all.
    bores = [find_bores(skin, soft=soft) for soft in (False, True)] if holes and _rings_through(skin) else []
    asked = _attempt(skin, direction, where, inside, bores)
    if isinstance(asked, Closed) and _square(asked):
        return asked
    others = [
        (name, _attempt(skin, np.asarray(way), where, inside, bores))
        for name, way in zip(WAY_NAMES, SIX_WAYS, strict=True)
        if float(np.asarray(way) @ direction) < 0.99
    ]
    squarely = [(name, tried) for name, tried in others if isinstance(tried, Closed) and _square(tried)]
    if len(squarely) == 1:
        return _taken(*squarely[0])
    if isinstance(asked, Closed):
        return asked
    if isinstance(asked, InputError):
        raise asked
    refused = [tried for _, tried in others if isinstance(tried, InputError)]
    if refused and not squarely:
        raise refused[0]
    if inside and not squarely:
        raise CannotError(
            "has no hollow that plaster could fill up to a rim, which is what a hump is cast in.",
            where=where,
            remedy="Where it has a flat side, make an open block of it with --open block, soap that well and "
            "fill it with plaster: what comes out is a hump of its outside.",
        )
    ways = f"; it does along {', '.join(name for name, _ in squarely)}" if squarely else " or any other axis"
    raise InputError(
        f"has no opening to close along up ({_words(direction)}){ways}.",
        where=where,
        remedy="Say --up for the way the opening looks, or leave --mouth out for a solid object. An inside "
        "is found by the water it holds: close a hole through its wall in the model first, and cut it in the "
        "leather-hard ware.",
    )


def _attempt(
    skin: Skin, up: Points, where: str, inside: bool, bores: list[list[Bore]]
) -> Closed | InputError | None:
    """The vessel closed along `up`, or why it cannot be, or None when nothing opens that way; with the holes
    closed that one of the lists of `bores` leads to, the first that serves."""
    refused: InputError | None = None
    for found in bores:
        whole = close_holes(skin, found, up)
        try:
            closed = _closed(whole.skin, up, where, inside, holes=whole.holes)
        except InputError as reason:
            refused = refused or reason
            continue
        if closed is not None and closed.holes:
            return closed
    if refused is not None:
        return refused
    try:
        return _closed(skin, up, where, inside) or _capped_sheet(skin, up)
    except InputError as reason:
        return reason


def _rings_through(skin: Skin) -> int:
    """How many holes go through a closed skin of one part, handles counted with them, by Euler."""
    edges = len(skin.faces) * 3 // 2
    points = int(used_points(skin.faces, len(skin.vertices)).sum())
    return (2 - (points - edges + len(skin.faces))) // 2


def _pierced(holes: tuple[WallHole, ...], where: str) -> InputError:
    """What a vessel with holes through its wall is refused with: which they are, and the line that leads
    on."""
    return InputError(
        f"has {say_count(len(holes), 'hole')} through its wall ({listed(holes)}).",
        where=where,
        remedy="Add --close-holes: each is closed flush for the mold, and the plan tells where and how wide "
        "to cut it in the leather-hard ware.",
    )


def _square(closed: Closed) -> bool:
    """Whether the vessel stands upright: a lying one overflows long before it is full."""
    full_ml = max(closed.reading.closed_ml, closed.reading.overflow_ml)
    return closed.reading.overflow_ml > LEAST_FULL * full_ml


def _taken(name: str, closed: Closed) -> Closed:
    says = f"No mouth opens along up as given; it opens along {name}, which was taken as up."
    told = Finding("up_assumed", "look", "the mouth", says, f"Say --up {name} if that is right.")
    return Closed(closed.skin, closed.reading, (told, *closed.findings))


def _closed(
    skin: Skin, up: Points, where: str, filled: bool, *, holes: tuple[WallHole, ...] | None = None
) -> Closed | None:
    """The vessel closed along `up`; None when nothing opens that way. `holes` are closed already; None allows
    no further opening beside the mouth, such as a spout's, to be closed."""
    basin = largest_basin(skin, up)
    if basin is None:
        return None
    inside = inside_faces(skin, basin)
    if not inside.any() or inside.all():
        return None
    kept = skin.flipped(np.ones(len(inside), bool)).kept(inside) if filled else skin.kept(~inside)
    rims = rims_of(kept)
    if not any(_upright(r, up) for r in rims):
        return None
    if basin.rivals:
        raise InputError(
            f"has {basin.rivals + 1} insides that hold water; only one mouth can be closed.",
            where=where,
            remedy="Fill the others in the model, or leave --mouth out.",
        )
    if len(rims) > 1 and holes is None:
        places = "; ".join(_place(r.middle) for r in rims)
        raise InputError(
            f"has an inside with {len(rims)} openings (near {places}).",
            where=where,
            remedy="Close all but the mouth in the model, such as the spout, then plan again; cut them in "
            "the leather-hard ware.",
        )
    # Of several openings the mouth is the one that a hand looking down finds widest.
    rims.sort(key=lambda rim: -float(rim.normal @ up))
    whole = kept
    for place, rim in enumerate(rims):
        spanned = span(skin.vertices[rim.ring], rim.normal / np.linalg.norm(rim.normal) if place else up)
        if spanned is None:
            raise InputError(
                "has a rim that runs under itself seen from above, and no surface spans it.",
                where=where,
                remedy="Tilt --up towards the opening, or close the mouth in the model.",
            )
        points, faces = spanned
        number = np.concatenate([rim.ring, len(whole.vertices) + np.arange(len(points))])
        whole = whole.with_faces(number[faces], Origin.MEND if place else Origin.MOUTH, points)
    whole = whole.trimmed()
    verdict = judge(whole)
    if not verdict.ok:
        raise InputError(
            f"cannot be closed at its rim: {verdict.why}.",
            where=where,
            remedy="Close the mouth in the model.",
        )
    closed_mm3 = verdict.volume_mm3 if filled else verdict.volume_mm3 - skin.mesh().volume_mm3
    loop = skin.vertices[rims[0].ring]
    reading = _reading(loop, up, basin.level_mm, basin.held_mm3, closed_mm3)
    reading = replace(reading, inside_opens=_opens(skin.kept(inside), up))
    all_holes = (*(holes or ()), *(at_rim(skin, rim) for rim in rims[1:]))
    return Closed(whole, reading, (), all_holes and placed(all_holes, skin.vertices, _middle(loop, up), up))


def _middle(loop: Points, up: Points) -> Points:
    """The middle of the area that a rim encloses seen from above."""
    axes = plane_axes(up)
    centre = shapely.Polygon(loop @ axes).centroid
    middle: Points = np.array([centre.x, centre.y]) @ axes.T
    return middle


def _opens(inside: Skin, up: Points) -> bool:
    """Whether no face of the inside looks down: then a filling leaves upwards."""
    a, b, c = (inside.vertices[inside.faces[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    down = normal @ up < -OVERHANG * np.linalg.norm(normal, axis=1)
    return not bool(down.any())


def _capped_sheet(skin: Skin, up: Points) -> Closed | None:
    """A vessel drawn as one sheet without thickness, whose open rim on top was closed as a hole already."""
    a, b, c = (skin.vertices[skin.faces[:, k]] for k in range(3))
    plan = 0.5 * np.cross(b - a, c - a) @ up
    heights = skin.vertices @ up
    top = heights.max() - SHEET_RIM_DEPTH * np.ptp(heights)
    lid = (skin.origin == int(Origin.MEND)) & (heights[skin.faces].min(axis=1) >= top)
    if plan[lid].sum() < SHEET_RIM_PART * plan[plan > 0].sum():
        return None
    rims = rims_of(skin.kept(~lid))
    if len(rims) != 1 or not _upright(rims[0], up):
        return None
    loop = skin.vertices[rims[0].ring]
    brim = float((loop @ up).min())
    held = float(kernel(skin).trim_by_plane(tuple(-up), -brim).volume())
    marks = np.where(lid, int(Origin.MOUTH), skin.origin).astype(np.uint8)
    says = "The file draws the vessel as one sheet without thickness; its open rim was taken as the mouth."
    remedy = "If the file means the inside of the ware, scale it up by the wall."
    told = Finding("sheet_vessel", "look", "the mouth", says, remedy)
    return Closed(replace(skin, origin=marks), _reading(loop, up, brim, held, 0.0), (told,))


def _reading(loop: Points, up: Points, brim_mm: float, held_mm3: float, closed_mm3: float) -> MouthReading:
    return MouthReading(
        rim_mm=tuple((float(x), float(y), float(z)) for x, y, z in loop),
        up=(float(up[0]), float(up[1]), float(up[2])),
        brim_mm=brim_mm,
        overflow_ml=held_mm3 / 1000.0,
        closed_ml=closed_mm3 / 1000.0,
    )


def hollow_reading(vessel: Skin, mouth: MouthReading) -> HollowReading:
    """The vessel round an inside that was closed at `mouth`."""
    rim = np.array(mouth.rim_mm) @ mouth.up
    whole = vessel.mesh()
    return HollowReading(
        vessel=whole,
        up=mouth.up,
        rim_high_mm=float(rim.max()),
        rim_low_mm=float(rim.min()),
        foot_mm=float((whole.vertices_mm @ np.array(mouth.up)).min()),
        holds_ml=mouth.overflow_ml,
    )


def _upright(rim: Rim, up: Points) -> bool:
    return float(rim.normal @ up) > LEAST_UPRIGHT * float(np.linalg.norm(rim.normal))


def _place(point: Points) -> str:
    x, y, z = (round(float(c)) for c in point)
    return f"{x}, {y}, {z} mm"


def _words(direction: Points) -> str:
    return " ".join(f"{c:.3g}" for c in direction)
