"""What became of a solid since it was written: moved, turned, mirrored, scaled, put in another's file.

The solid as it was is compared with what its file holds now. The triangles of a file that another program
wrote again mostly keep their order, so that one affine map between middles of faces tells the change.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from claybed.geometry.closest import nearest_within
from claybed.geometry.lattice import lattice_mm
from claybed.geometry.mesh import Floats
from claybed.geometry.nearness import distances_mm
from claybed.geometry.slab import LatticeSolid
from claybed.geometry.spotting import shared_faces, spread_spots
from claybed.proof.adjoining import called
from claybed.records.assembly import BLOCK_FRAME

# What an affine map leaves over, of coordinates rounded to the lattice; and what counts as no change.
FITS_MM = 0.01
APART_MM = 4.0
MOST_SPOTS = 20_000
MOST_MEASURED = 1000
# Shares and degrees that rounding of coordinates does not reach.
SCALED_SHARE = 2e-4
TURNED_DEG = 0.05
MM_PER_IN = 25.4
EDITED = "was edited since the plan wrote it"


def apart_mm(one: LatticeSolid, other: LatticeSolid) -> float:
    """The largest distance (mm) of spots on either solid from the other: 0 for the same surface, however it
    is cut into triangles.
    """
    if not len(one.faces) or not len(other.faces):
        return 0.0 if len(one.faces) == len(other.faces) else float("inf")
    alike = shared_faces([(one.points, one.faces), (other.points, other.faces)])
    most = 0.0
    for (solid, same), against in zip(((one, alike[0]), (other, alike[1])), (other, one), strict=True):
        left = solid.faces[~same]
        if not len(left):
            continue
        spots = spread_spots(lattice_mm(solid.points), left, APART_MM, MOST_SPOTS)
        corners = lattice_mm(against.points)[against.faces]
        lost = spots[nearest_within(spots, corners, FITS_MM)[0] < 0]
        if len(lost):
            lost = lost[:: -(-len(lost) // MOST_MEASURED)]
            most = max(most, float(distances_mm(lost, against.mesh(BLOCK_FRAME)).max()))
    return most


def change_of(name: str, now: LatticeSolid, written: Mapping[str, LatticeSolid]) -> str:
    """What a file's solid is against the solids that were written, as the end of a sentence: "holds piece B",
    "was moved by 0.50 mm", `EDITED` for what has no such name; empty when it still is the solid `name`.

    `written` are the solids as they were, by piece letter and "model", as far as they are known.
    """
    own = written.get(name)
    if own is not None and apart_mm(now, own) <= FITS_MM:
        return "was turned inside out" if now.volume_mm3 * own.volume_mm3 < 0.0 else ""
    for other, solid in written.items():
        if other != name and _alike_at_a_glance(now, solid) and apart_mm(now, solid) <= FITS_MM:
            return f"holds {called(other)}"
    if own is None:
        return EDITED
    return _mapped(now, own) or _by_size(now, own) or EDITED


def _alike_at_a_glance(one: LatticeSolid, other: LatticeSolid) -> bool:
    bounds = [np.concatenate([box.min(axis=0), box.max(axis=0)]) for box in map(_points, (one, other))]
    return bool(np.abs(bounds[0] - bounds[1]).max() <= FITS_MM)


def _points(solid: LatticeSolid) -> Floats:
    return lattice_mm(solid.points[np.unique(solid.faces)])


def _middles(solid: LatticeSolid) -> Floats:
    middle: Floats = lattice_mm(solid.points)[solid.faces].mean(axis=1)
    return middle


def _mapped(now: LatticeSolid, own: LatticeSolid) -> str:
    """The change as one affine map from face to face; empty when there is none, or none worth a word."""
    if len(now.faces) != len(own.faces) or len(now.faces) < 4:
        return ""
    before, after = _middles(own), _middles(now)
    centre = before.mean(axis=0)
    fitted, _, rank, _ = np.linalg.lstsq(
        np.column_stack([before - centre, np.ones(len(before))]), after, rcond=None
    )
    rest_mm = float(np.abs(np.column_stack([before - centre, np.ones(len(before))]) @ fitted - after).max())
    if rank < 4 or rest_mm > FITS_MM:
        return ""
    linear, shift = fitted[:3].T, fitted[3] - centre
    said = []
    u, factors, vt = np.linalg.svd(linear)
    turn = u @ vt
    if np.linalg.det(turn) < 0.0:
        said.append("mirrored")
        # Of all planes the one that leaves least to turn is the one it was mirrored in.
        flips = [np.diag([-1.0 if k == axis else 1.0 for k in range(3)]) for axis in range(3)]
        turn = max((turn @ flip for flip in flips), key=lambda m: float(np.trace(m)))
    angle = float(np.degrees(np.arccos(np.clip((np.trace(turn) - 1.0) / 2.0, -1.0, 1.0))))
    if angle > TURNED_DEG:
        said.append(f"turned by {angle:.1f} degrees")
    if np.ptp(factors) > SCALED_SHARE * factors[0]:
        along = np.linalg.norm(linear, axis=0)
        said.append(f"stretched to {along[0]:.4g}, {along[1]:.4g} and {along[2]:.4g} times along x, y and z")
    elif abs(factors[0] - 1.0) > SCALED_SHARE:
        said.append(_scaled(float(factors.mean())))
    if not said and (moved_mm := float(np.linalg.norm(shift))) > FITS_MM:
        return f"was moved by {moved_mm:.2f} mm ({shift[0]:+.2f}, {shift[1]:+.2f}, {shift[2]:+.2f} mm)"
    return f"was {' and '.join(said)}" if said else ""


def _scaled(factor: float) -> str:
    inches = " (inches taken for millimetres, or the reverse)"
    known = any(abs(factor * times - 1.0) < 1e-3 for times in (MM_PER_IN, 1.0 / MM_PER_IN))
    return f"scaled to {factor:.4g} times its size{inches if known else ''}"


def _by_size(now: LatticeSolid, own: LatticeSolid) -> str:
    """The change as far as bounds and volumes tell it, where triangles were cut anew; else empty."""
    (lo, hi), (lo0, hi0) = ((p.min(axis=0), p.max(axis=0)) for p in (_points(now), _points(own)))
    grown = (hi - lo) / (hi0 - lo0)
    volume = abs(now.volume_mm3) / own.volume_mm3
    shift = (lo + hi - lo0 - hi0) / 2.0
    if np.ptp(grown) > SCALED_SHARE * grown[0] or abs(volume / grown[0] ** 3 - 1.0) > SCALED_SHARE:
        return ""
    if abs(grown[0] - 1.0) > SCALED_SHARE:
        return f"was {_scaled(float(grown.mean()))}"
    moved_mm = float(np.linalg.norm(shift))
    if moved_mm <= FITS_MM:
        return ""
    return f"was moved by {moved_mm:.2f} mm ({shift[0]:+.2f}, {shift[1]:+.2f}, {shift[2]:+.2f} mm)"
