"""A mold put together again from its files and its plan alone, and proved anew.

Files hold no word of where a face came from, so faces are told apart by where they lie: on the block's
outside, on the model, or between pieces.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM, Lattice, lattice_mm
from claybed.geometry.mesh import Bytes, Floats, Origin
from claybed.geometry.nearness import distances_mm
from claybed.geometry.slab import LatticeSolid
from claybed.proof.adjoining import NEAR_MM, adjoining, adjoining_limit_mm, on_outside, placed
from claybed.proof.closings import close_one_way
from claybed.proof.drafts import walls_have_draft
from claybed.proof.gates import gate_open
from claybed.proof.leaving import CUT_LATERAL_MM, leaving, pieces_overlap
from claybed.proof.misplacing import none_goes_elsewhere
from claybed.proof.places import in_words
from claybed.proof.plaster import liftable, tongue, wall
from claybed.proof.plinth import plinth
from claybed.proof.pour_figures import mix_fits, pour_fits
from claybed.proof.seam_edges import seam_angle, side_seam_angle
from claybed.proof.solidity import solidity, volumes_fill_block
from claybed.proof.thinness import plates
from claybed.records.assembly import BLOCK_FRAME, Assembly, BlockKey, Gate, Piece
from claybed.records.finding import Check

Document = Mapping[str, Any]


def prove_again(
    document: Document, solids: Mapping[str, LatticeSolid], edited: Collection[str]
) -> tuple[Check, ...]:
    """Every check that a plan folder can be put to without the object it was made for.

    `document` is plan.json; `solids` the solids of its files by piece letter and "model"; `edited` names
    those that are not as they were written. Where none is, pieces must release and fill the block to the last
    step; else 0.01 mm sideways is taken. Raises KeyError,
    TypeError or ValueError when the document lacks what a mold needs.
    """
    assembly = reopened(document, solids)
    cut = len(assembly.pieces) > 2 or bool(edited)
    lateral_mm = CUT_LATERAL_MM if cut else 0.0
    pieces = {p.id: p.solid for p in assembly.pieces}
    named = {**pieces, "model": assembly.model}
    checks = solidity(named, assembly)
    checks.append(_block_as_planned(document, assembly, named))
    laid = adjoining(named, assembly, limit_mm=adjoining_limit_mm(assembly))
    volumes = _within(volumes_fill_block(named, assembly), assembly.model, lateral_mm)
    checks += [placed(volumes, laid), *laid]
    checks += leaving(named, assembly, lateral_mm=lateral_mm)
    if not cut:
        checks.append(pieces_overlap(named, assembly))
    checks += close_one_way(assembly, keys_asked=False)
    checks += none_goes_elsewhere(assembly)
    checks += walls_have_draft(assembly)
    checks += _keys_stand(assembly)
    checks.append(plinth(assembly) if assembly.hump else wall(assembly))
    checks += gate_open(assembly)
    checks += [tongue(pieces, assembly), *plates(pieces, assembly)]
    checks += [check for check in (seam_angle(assembly), side_seam_angle(assembly)) if check]
    planned = {row["id"]: row for row in document["pieces"]}
    wet_kg = {
        letter: float(planned[letter]["wet_kg"])
        * solid.volume_mm3
        / 1e3
        / float(planned[letter]["volume_ml"])
        for letter, solid in pieces.items()
    }
    checks.append(liftable(wet_kg, float(document["made"]["brief"]["lift_kg"])))
    pours = {pour["piece"]: pour for pour in document["pours"]}
    for letter, solid in pieces.items():
        checks.append(pour_fits(letter, solid, planned[letter]))
        checks += [mix_fits(letter, planned[letter], pours[letter])] if letter in pours else []
    return tuple(checks)


def reopened(document: Document, solids: Mapping[str, LatticeSolid]) -> Assembly:
    """The closed mold that a plan describes, with the solids of its files.

    The block's outline is the convex hull of the pieces in plan, its height theirs. Raises KeyError,
    TypeError or ValueError when the document lacks what a mold needs.
    """
    rows = list(document["pieces"])
    if not rows:
        raise ValueError("the plan has no pieces")
    mold = document["mold"]
    points = np.concatenate([solids[row["id"]].points for row in rows])
    footprint = _hull(points[:, :2])
    height = int(points[:, 2].max())
    gate = mold["gate"]
    outer = tuple(float(v) for v in mold["outer_mm"])
    at = tuple(float(v) for v in gate.get("at_mm") or (0.0, 0.0, 0.0))
    out = _way_out(solids["model"], footprint, height, np.array(at)) if gate["kind"] != "none" else (0.0,) * 3
    keys = tuple(
        BlockKey(
            (float(k["at_mm"][0]), float(k["at_mm"][1]), float(k["at_mm"][2])),
            float(k["diameter_mm"]),
            float(k["depth_mm"]),
            str(k["bump_on"]),
        )
        for k in mold["keys"]
    )
    assembly = Assembly(
        shape=str(mold["shape"]),
        outer_mm=outer,
        footprint=footprint,
        height=height,
        wall_mm=float(mold["wall_mm"]),
        wall_reason=str(mold.get("wall_reason", "")),
        model=solids["model"],
        pieces=tuple(
            Piece(
                str(r["id"]),
                k + 1,
                _vector(r["pull"]),
                solids[str(r["id"])],
                int(r["order"]),
                _vector(r["leaves"]) if r.get("leaves") else None,
            )
            for k, r in enumerate(rows)
        ),
        contacts=(),
        keys=keys,
        gate=Gate(
            gate["kind"], float(gate.get("bore_mm") or math.nan), math.nan, 0.0, _vector(at), _vector(out)
        ),
        seam_loops=(),
        seam_length_mm=0.0,
        seam_flat=False,
        off_plane_mm=0.0,
        level_mm=float(mold.get("level_mm") or 0.0),
        to_block=np.eye(3),
        shift_mm=np.zeros(3),
        stance=str(mold.get("stance", "")),
        square_mm=0.0,
        hidden_faces=0,
        hump=bool(mold.get("hump")),
        draft_deg=float(mold.get("draft_deg") or 0.0),
    )
    return _told_apart(assembly)


def _told_apart(assembly: Assembly) -> Assembly:
    """The mold with every face's origin told by where it lies."""
    gate = assembly.gate
    model = assembly.model
    outside = on_outside(model, assembly)
    middle = lattice_mm(model.points)[model.faces].mean(axis=1)
    origin = np.full(len(model.faces), int(Origin.OBJECT), np.uint8)
    # Without a way out of the block, no face is known to be the gate's.
    gated = gate.kind in ("bore", "mouth") and any(gate.out)
    if gated:
        origin[(middle - np.array(gate.at_mm)) @ np.array(gate.out) > -NEAR_MM] = int(Origin.GATE)
    model = replace(model, origin=np.where(outside, np.uint8(Origin.OUTSIDE), origin))
    if gated:
        model = replace(model, origin=np.where(outside, np.uint8(Origin.GATE), model.origin))
    surface = model.mesh(BLOCK_FRAME)
    pieces = []
    for piece in assembly.pieces:
        solid = piece.solid
        at = lattice_mm(solid.points)[solid.faces].mean(axis=1)
        far = distances_mm(at, surface)
        own: Bytes = np.where(far <= NEAR_MM, np.uint8(Origin.OBJECT), np.uint8(Origin.PARTING))
        if gated:
            beyond = (at - np.array(gate.at_mm)) @ np.array(gate.out) > -NEAR_MM
            own = np.where(beyond & (own == int(Origin.OBJECT)), np.uint8(Origin.GATE), own)
        own = np.where(on_outside(solid, assembly), np.uint8(Origin.OUTSIDE), own).astype(np.uint8)
        pieces.append(replace(piece, solid=replace(solid, origin=own)))
    return replace(assembly, model=model, pieces=tuple(pieces))


def _way_out(model: LatticeSolid, footprint: Lattice, height: int, at: Floats) -> tuple[float, ...]:
    """Unit direction from where the gate meets the object to the middle of the model's outer faces."""
    ring = footprint / XY_PER_MM
    p = lattice_mm(model.points)
    far = np.minimum(np.abs(p[:, 2]), np.abs(p[:, 2] - height / Z_PER_MM))
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        along = (b - a) / np.linalg.norm(b - a)
        far = np.minimum(far, np.abs(along[0] * (p[:, 1] - a[1]) - along[1] * (p[:, 0] - a[0])))
    end = p[far <= NEAR_MM]
    if not len(end):
        return (0.0, 0.0, 0.0)
    way = (end.min(axis=0) + end.max(axis=0)) / 2.0 - at
    length = float(np.linalg.norm(way))
    return tuple(float(v) for v in way / length) if length > NEAR_MM else (0.0, 0.0, 0.0)


def _hull(plan: Lattice) -> Lattice:
    """Corners (k, 2) of the convex hull of plan points, counter-clockwise, no three in line; exact."""
    lo, hi = plan.min(axis=0), plan.max(axis=0)
    middle = (lo + hi) // 2
    # What lies well inside cannot be a corner: only points beyond the inscribed diamond are walked.
    reach = np.maximum((hi - lo) / 2.0, 1.0)
    rim = plan[(np.abs((plan - middle) / reach)).sum(axis=1) >= 0.98]
    ordered = [(int(x), int(y)) for x, y in np.unique(rim, axis=0)]

    def side(points: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
        chain: list[tuple[int, int]] = []
        for p in points:
            while len(chain) > 1:
                a, b = chain[-2], chain[-1]
                if (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]) > 0:
                    break
                chain.pop()
            chain.append(p)
        return chain[:-1]

    corners = side(ordered) + side(ordered[::-1])
    if len(corners) < 3:
        raise ValueError("the pieces have no extent in plan")
    return np.array(corners, np.int64)


def _block_as_planned(document: Document, assembly: Assembly, solids: Mapping[str, LatticeSolid]) -> Check:
    """The check that pieces and model stand where the plan put them and make up its block."""
    points = np.concatenate([s.points for s in solids.values()])
    lo, hi = lattice_mm(np.stack([points.min(axis=0), points.max(axis=0)]))
    outer = [float(v) for v in document["mold"]["outer_mm"]]
    off = [abs(float(lo[2])), abs(float(hi[2]) - outer[-1])]
    if assembly.shape == "boxed":
        off += [float(np.abs(np.array([lo[k], -hi[k]]) + outer[k] / 2.0).max()) for k in (0, 1)]
    worst_mm = max(off)
    name = ("the board", "the top", "the left or right side", "the front or back side")[int(np.argmax(off))]
    ok = worst_mm <= NEAR_MM
    return Check(
        id="block_as_planned",
        ok=ok,
        measured=worst_mm,
        limit=NEAR_MM,
        unit="mm",
        sense="most",
        where="the whole block" if ok else name,
        how="bounds of all solids together against the block of the plan",
        remedy="" if ok else "A solid was moved, scaled or turned: export it where it stood, in millimetres.",
    )


def _within(check: Check, model: LatticeSolid, lateral_mm: float) -> Check:
    """The check on volumes with room for contact faces that moved by `lateral_mm`."""
    if not lateral_mm:
        return check
    limit = lateral_mm * model.mesh(BLOCK_FRAME).area_mm2
    ok = check.measured <= limit
    how = f"{check.how}; faces may lie off by {lateral_mm:g} mm over the model's surface"
    return replace(
        check, ok=ok, limit=limit, how=how, remedy="" if ok else "Compare the pieces with the plan."
    )


def _keys_stand(assembly: Assembly) -> list[Check]:
    """The check that every key of the plan still stands out of its piece, when there are keys."""
    if not assembly.keys:
        return []
    least_mm, where, at = math.inf, "every key", None
    for key in assembly.keys:
        piece = next((p for p in assembly.pieces if p.id == key.bump_on), None)
        stands = _rise_mm(piece, key) if piece is not None else 0.0
        if stands / key.depth_mm < least_mm:
            least_mm, at = stands / key.depth_mm, key.at_mm
    ok = least_mm >= 0.5
    if not ok and at is not None:
        where = in_words(at, assembly)
    return [
        Check(
            id="keys_stand",
            ok=ok,
            measured=least_mm,
            limit=0.5,
            unit="of its depth",
            sense="least",
            where=where,
            how="height of the piece's own corners over the key, against the parting surface around it",
            remedy="" if ok else "The key is gone from this piece: put it back, or plan again.",
            at_mm=None if ok else at,
        )
    ]


def _rise_mm(piece: Piece, key: BlockKey) -> float:
    """How far a bump stands out of its piece against the pull, mm."""
    p = lattice_mm(piece.solid.points)
    out = -np.array(piece.pull)
    joint = np.unique(piece.solid.faces[piece.solid.origin == int(Origin.PARTING)])
    if not len(joint):
        return 0.0
    rel = p[joint] - np.array(key.at_mm)
    height = rel @ out
    across = np.linalg.norm(rel - np.outer(height, out), axis=1)
    over = across <= 0.55 * key.diameter_mm
    return float(np.ptp(height[over])) if over.sum() > 1 else 0.0


def _vector(values: Sequence[float]) -> tuple[float, float, float]:
    x, y, z = (float(v) for v in values)
    return x, y, z
