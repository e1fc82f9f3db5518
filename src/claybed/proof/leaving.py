"""Every piece leaves along its pull, in order; the model leaves the last one; no two share space."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from weakref import WeakKeyDictionary, ref

from claybed.geometry.clearance import Lock
from claybed.geometry.slab import LatticeSolid
from claybed.geometry.slanting import lock_toward
from claybed.geometry.stacking import stack
from claybed.proof.places import in_words
from claybed.records.assembly import Assembly
from claybed.records.finding import Check

LINES = 100_000
# Heights on the lines are worked in floating point; this is a thousand times their rounding.
HEIGHT_TOLERANCE_MM = 1e-6
# Faces that were cut by a boolean, or came back from another program, lie off their planes by rounding.
CUT_LATERAL_MM = 0.01
CUT_VOLUME_SHARE = 1e-6

Pull = tuple[float, float, float]
# Solids never change, so what was measured between them holds as long as they live.
_Measured = tuple[tuple[ref[LatticeSolid], ...], Pull, float, Lock]
_MEASURED: WeakKeyDictionary[LatticeSolid, list[_Measured]] = WeakKeyDictionary()


def leaving(
    solids: Mapping[str, LatticeSolid], assembly: Assembly, prefix: str = "", *, lateral_mm: float = 0.0
) -> list[Check]:
    """Checks `release_<id>` in the order of opening, then `model_leaves_last`; ids begin with `prefix`.

    `solids` holds every piece by its letter and the model as "model"; faces may reach into one
    another by `lateral_mm`, and a lock sideways as far (0: no lock at all). Raises ValueError for pulls
    that are not of small whole numbers.
    """
    pieces = sorted(assembly.pieces, key=lambda piece: piece.opens or piece.order)
    model = solids["model"]
    checks = []
    for k, piece in enumerate(pieces):
        later = [solids[p.id] for p in pieces[k + 1 :]]
        lock = _lock(solids[piece.id], [model, *later], piece.way, lateral_mm)
        others = ", ".join(["the model", *(f"piece {p.id}" for p in pieces[k + 1 :])])
        checks.append(
            _check(
                f"{prefix}release_{piece.id}",
                f"piece {piece.id} against {others}",
                lock,
                assembly,
                lateral_mm,
            )
        )
    last = pieces[-1]
    # The last piece was just drawn off the model alone. Drawing the model off it the other way is the same
    # motion seen from the piece, and asks whether the same faces of the same two solids meet.
    if lock.pairs:
        away = (-last.way[0] + 0.0, -last.way[1] + 0.0, -last.way[2] + 0.0)
        lock = _lock(model, [solids[last.id]], away, lateral_mm)
    checks.append(
        _check(f"{prefix}model_leaves_last", f"the model in piece {last.id}", lock, assembly, lateral_mm)
    )
    return checks


def sides_leave(assembly: Assembly) -> bool:
    """Whether every piece that opens before the main ones leaves past all that is still closed: for choosing
    between cuts before all is proved. Raises ValueError as `leaving` does.
    """
    return sides_held_mm(assembly) == 0.0


def sides_held_mm(assembly: Assembly) -> float:
    """How far something reaches under the first piece that would be held of those that open before the main
    ones, mm; 0 where all leave past what is still closed. Raises ValueError as `leaving` does.
    """
    pieces = sorted(assembly.pieces, key=lambda piece: piece.opens or piece.order)
    for k, piece in enumerate(pieces[: -1 if assembly.base else -2]):
        others = [assembly.model, *(p.solid for p in pieces[k + 1 :])]
        lock = _lock(piece.solid, others, piece.pull, CUT_LATERAL_MM)
        if lock.pairs and lock.lateral_mm > CUT_LATERAL_MM:
            return lock.lateral_mm
    return 0.0


def _lock(solid: LatticeSolid, others: Sequence[LatticeSolid], pull: Pull, slack_mm: float) -> Lock:
    """What holds a solid along a pull, as `lock_toward` gives it; measured once, though it is asked for when
    a cut is chosen and again when the mold is proved.
    """
    known = _MEASURED.setdefault(solid, [])
    for refs, way, slack, lock in known:
        same = len(refs) == len(others) and all(r() is o for r, o in zip(refs, others, strict=True))
        if same and way == pull and slack == slack_mm:
            return lock
    found = lock_toward(solid, others, pull, slack_mm=slack_mm)
    known.append((tuple(ref(other) for other in others), pull, slack_mm, found))
    return found


def pieces_overlap(solids: Mapping[str, LatticeSolid], assembly: Assembly) -> Check:
    """The check that no two of pieces and model share space, on upright lines spread over the block."""
    found = stack(list(solids.values()), assembly.footprint, lines=LINES)
    overlap_mm = found.overlap_mm if found.overlap_mm > HEIGHT_TOLERANCE_MM else 0.0
    ok = overlap_mm == 0.0
    return Check(
        id="pieces_overlap",
        ok=ok,
        measured=overlap_mm,
        limit=0.0,
        unit="mm",
        sense="most",
        where="the whole block" if ok else in_words(found.at_mm, assembly),
        how=f"{found.lines} upright lines; overlaps up to {HEIGHT_TOLERANCE_MM:g} mm are rounding",
        remedy="" if ok else "Do not pour from this plan: plan again, and report it if it stays.",
        at_mm=None if ok else found.at_mm,
    )


def _check(name: str, who: str, lock: Lock, assembly: Assembly, lateral_mm: float) -> Check:
    where = who
    ok = lock.pairs == 0 or lock.lateral_mm <= lateral_mm
    if lock.at_mm is not None:
        where = f"{who}: {lock.height_mm:.3g} mm in the way, {in_words(lock.at_mm, assembly)}"
    return Check(
        id=name,
        ok=ok,
        measured=lock.lateral_mm,
        limit=lateral_mm,
        unit="mm",
        sense="most",
        where=where,
        how="every pair of faces that could meet along the pull, in integers"
        + (f"; up to {lateral_mm:g} mm into one another is rounding" if lateral_mm else ""),
        remedy="" if ok else "Fill the undercut on the object here, or choose another axis.",
        at_mm=lock.at_mm,
    )
