"""Everything at the bench, from the pours and what stands in their forms."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

from claybed.bench.afterwards import dry_targets, model_kg, plan_after
from claybed.bench.bed import hanging_kg, plan_bed
from claybed.bench.forms import plan_form
from claybed.bench.holding import plan_hold
from claybed.bench.lifts import CLOSED, plan_lifts
from claybed.bench.mixing import plan_mixing
from claybed.bench.release import plan_release
from claybed.records.bench import Bench, PourBench
from claybed.records.brief import Brief
from claybed.records.finding import Finding
from claybed.records.poured import Poured
from claybed.records.standing import StandingObject, StandingPour

# Letters and digits that are not mistaken for one another when scratched into plaster.
_LETTERS = "ACDEFHJKLMNPRTVWXY34679"
_CODE_LENGTH = 5


def plan_bench(
    standing: Sequence[StandingPour], thing: StandingObject, poured: Poured, brief: Brief, *, plan_key: str
) -> Bench:
    """Plan form, bed, hold, release, mixing, what comes after, drying and lifts.

    `standing` and the pours in pouring order; `plan_key` any text that stands for the plan, from which the
    code to scratch into the plaster is derived. Raises InputError for a pour that makes no sense.
    """
    code = scratch_code(f"{plan_key} {[(p.piece, round(p.volume_ml)) for p in standing]}")
    bed = plan_bed(thing, standing[0])
    rows = []
    findings: list[Finding] = []
    opening = tuple(stood.piece for stood in sorted(standing, key=lambda stood: stood.opens))
    turns: list[tuple[str, float]] = []
    # The bed stays on while the place of the piece that follows is still kept by it.
    keeps_bed = any(stood.takes_bed for stood in standing)
    for place, (pour, stood) in enumerate(zip(poured.pours, standing, strict=True)):
        form = plan_form(stood, brief, thing.keepers)
        mixing = plan_mixing(pour, stood, thing, brief)
        last = place == len(standing) - 1
        poured_so_far = tuple(standing[: place + 1])
        after = plan_after(
            pour,
            poured_so_far,
            thing,
            brief,
            following=None if last else standing[place + 1],
            opening=opening,
            code=code,
            clay_kg=hanging_kg(bed) if place == 0 or (keeps_bed and not stood.takes_bed) else 0.0,
        )
        if place > 0 and after.flip_kg is not None:
            turns.append((" and ".join(one.piece for one in poured_so_far), after.flip_kg.number))
        rows.append(PourBench(pour.piece, form, plan_hold(thing, stood, brief), mixing, after))
        findings += [
            f for f in (*form.findings, *mixing.findings) if f.id not in {one.id for one in findings}
        ]
    flip = rows[0].after.flip_kg
    if len(rows) > 1:
        turns.append((CLOSED, sum(one.wet_kg for one in standing) + model_kg(thing)))
    lifts, heavy = plan_lifts(tuple(standing), thing, None if flip is None else flip.number, brief, turns)
    return Bench(
        pours=tuple(rows),
        bed=bed,
        release=plan_release(brief, len(rows), aside_from=2 if keeps_bed else 3),
        dry_targets=dry_targets(poured.pours),
        lifts=lifts,
        code=code,
        findings=(*findings, *heavy),
    )


def scratch_code(text: str) -> str:
    """Five letters and digits that stand for a text, none of them easily taken for another."""
    number = int.from_bytes(hashlib.sha256(text.encode()).digest()[:8], "big")
    code = ""
    for _ in range(_CODE_LENGTH):
        number, place = divmod(number, len(_LETTERS))
        code += _LETTERS[place]
    return code
