"""From triangles to one closed solid, by the mildest means that do."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from claybed.errors import InputError
from claybed.intake.caps import cap_holes
from claybed.intake.clean import drop_degenerate, drop_duplicate, drop_loose
from claybed.intake.orient import orient
from claybed.intake.remesh import remesh
from claybed.intake.shells import Bodies, bodies_of, outward, picked
from claybed.intake.skin import Skin, edges_of, is_closed, parts_of
from claybed.intake.solidity import Verdict, enclosed_mm3, judge, parted
from claybed.intake.soup import Points, Triples
from claybed.intake.weld import weld_equal, weld_near
from claybed.records.finding import Amount, Finding
from claybed.records.measured import MendSummary, Repair
from claybed.units import say_count

Progress = Callable[[str, float], None]


@dataclass(frozen=True, slots=True, eq=False)
class Mended:
    """One closed, outward solid and what it took."""

    skin: Skin
    repairs: tuple[Repair, ...]
    summary: MendSummary
    findings: tuple[Finding, ...]
    verdict: Verdict


@dataclass(slots=True)
class _Ledger:
    repairs: list[Repair]
    findings: list[Finding]
    shift_mm: float = 0.0

    def note(self, repair: Repair | None) -> None:
        if repair is not None:
            self.repairs.append(repair)


def mend(vertices_mm: Points, faces: Triples, body: int | None, where: str, progress: Progress) -> Mended:
    """Close, orient and tell apart: triangles (n, 3) mm and (m, 3) in, one solid out.

    The cheap chain runs first; when its outcome is no solid, a new surface is drawn by winding number.
    Raises InputError when several bodies stand apart and none was picked, or when no solid can be made.
    """
    ledger = _Ledger([], [])
    progress("mending", 0.0)
    skin = Skin.of(*weld_equal(vertices_mm, faces)).trimmed()
    skin, repair = drop_degenerate(skin)
    ledger.note(repair)
    if len(skin.faces) < 4:
        raise InputError(
            "has too few triangles with any area to enclose a space.", where=where, remedy="Export it again."
        )
    as_read = skin
    was_closed = is_closed(skin.faces, len(skin.vertices))
    progress("mending", 0.2)
    if not was_closed:
        skin = _sewn(skin, ledger)
    progress("mending", 0.4)
    skin, repair = outward(skin, parts_of(skin.faces, len(skin.vertices)))
    ledger.note(repair)
    closed = was_closed or is_closed(skin.faces, len(skin.vertices))
    chosen, total, verdict = _settled(skin, closed, body, where, ledger)
    if not verdict.ok:
        progress("mending", 0.6)
        ledger.repairs = [r for r in ledger.repairs if r.step not in ("keep_outer", "unite")]
        chosen, total, verdict = _redrawn(skin, body, where, ledger, verdict.why)
    progress("mending", 1.0)
    change = 0.0
    if ledger.repairs:
        before = enclosed_mm3(as_read) if was_closed else 0.0
        change = 100.0 * (total - before) / before if before > 0 else float("nan")
    summary = MendSummary(change, ledger.shift_mm)
    return Mended(chosen, tuple(ledger.repairs), summary, tuple(ledger.findings), verdict)


def _sewn(skin: Skin, ledger: _Ledger) -> Skin:
    """The chain for surfaces with open or crowded edges."""
    skin, repair = drop_duplicate(skin)
    ledger.note(repair)
    skin, repair, shift = weld_near(skin)
    ledger.note(repair)
    ledger.shift_mm = max(ledger.shift_mm, shift)
    skin, repair = drop_duplicate(skin)
    ledger.note(repair)
    skin, repair = drop_loose(skin)
    ledger.note(repair)
    skin, repair = orient(skin)
    ledger.note(repair)
    skin, repair, findings = cap_holes(skin)
    ledger.note(repair)
    ledger.findings.extend(findings)
    skin = skin.trimmed()
    if not is_closed(skin.faces, len(skin.vertices)):
        apart = parted(skin)
        if apart is not None:
            count = int((edges_of(skin.faces, len(skin.vertices)).count > 2).sum())
            says = f"Parted the surface along {say_count(count, 'edge')} where it touches itself."
            ledger.note(Repair("part_edges", count, 0.0, "mm", says))
            skin = apart
    return skin


def _settled(
    skin: Skin, closed: bool, body: int | None, where: str, ledger: _Ledger
) -> tuple[Skin, float, Verdict]:
    """The body asked for, the volume of all bodies, and whether it is a solid."""
    if not closed:
        return skin, 0.0, judge(skin)
    sorted_out: Bodies = bodies_of(skin, parts_of(skin.faces, len(skin.vertices)))
    chosen = picked(sorted_out.bodies, body, where)
    ledger.repairs.extend(sorted_out.repairs)
    ledger.findings.extend(sorted_out.findings)
    total = sum(b.mesh().volume_mm3 for b in sorted_out.bodies)
    return chosen, total, judge(chosen, known_closed=chosen is skin)


def _redrawn(
    skin: Skin, body: int | None, where: str, ledger: _Ledger, why: str
) -> tuple[Skin, float, Verdict]:
    """A new surface where the old one cannot be made a solid."""
    drawn = remesh(skin)
    if drawn is None:
        raise _hopeless(why, where)
    new, repair, shift = drawn
    if not is_closed(new.faces, len(new.vertices)):
        raise _hopeless(why, where)
    ledger.note(repair)
    ledger.shift_mm = max(ledger.shift_mm, shift)
    new, _ = outward(new, parts_of(new.faces, len(new.vertices)))
    chosen, total, verdict = _settled(new, True, body, where, ledger)
    if not verdict.ok:
        raise _hopeless(verdict.why, where)
    ledger.findings.append(
        Finding(
            "surface_redrawn",
            "look",
            "the whole object",
            f"{repair.says} It stays within {shift:.2g} mm of the old one; sharp edges are rounded.",
            "Compare it with the object, or mend the file and plan again.",
            Amount(shift, "mm"),
        )
    )
    return chosen, total, verdict


def _hopeless(why: str, where: str) -> InputError:
    return InputError(
        f"cannot be made a closed solid: {why}.",
        where=where,
        remedy="Close its holes in a modelling program and export it again.",
    )
