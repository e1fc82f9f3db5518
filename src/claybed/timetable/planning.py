"""One mold from the first bed to the shelf: hands-on time and waiting, step by step."""

from __future__ import annotations

from collections.abc import Sequence

from claybed.materials import shelf
from claybed.records.bench import Bench, PourBench
from claybed.records.figure import Figure, Worked
from claybed.records.standing import StandingPour
from claybed.records.timetable import Entry, Timetable

_H = 60.0
_D = 24.0 * 60.0


class _Clock:
    """Adds steps one after the other."""

    def __init__(self) -> None:
        self.entries: list[Entry] = []
        self.now_min = 0.0
        self.hands_min = 0.0

    def step(
        self,
        what: str,
        hands_min: float,
        wait_min: float,
        says: str,
        why: str,
        inputs: dict[str, float | str] | None = None,
    ) -> None:
        """One step: hands on it, then waiting."""
        start = Worked(self.now_min, Figure("min", "end of the step before", "derived"))
        hands = Worked(hands_min, Figure("min", why, "practice", dict(inputs or {})))
        wait = Worked(wait_min, Figure("min", f"waiting: {says}" if wait_min else "none", "practice"))
        self.entries.append(Entry(what, start, hands, wait, says))
        self.now_min += hands_min + wait_min
        self.hands_min += hands_min


def plan_timetable(bench: Bench, standing: Sequence[StandingPour]) -> Timetable:
    """The timetable of one mold.

    `standing` in pouring order, for drying: water to leave over the whole surface of the slowest piece.
    Times of hands are common practice, no source; drying is reckoned from the rate of a wet face near the
    wet-bulb temperature, 25 °C and 50 %. Source: materials/bench.
    """
    clock = _Clock()
    _before(clock, bench)
    for place, pour in enumerate(bench.pours):
        _one_pour(clock, bench, pour, order=place + 1, last=place == len(bench.pours) - 1)
    poured_min = clock.now_min
    clock.step(
        "part, finish and mark the mold",
        _usual("finish_min"),
        0.0,
        "Chamfers, recesses, letters, weighing.",
        "usual",
    )
    drying = _drying(standing)
    clock.step(
        "dry on the shelf",
        0.0,
        drying.number,
        "Weigh it now and then; it is ready at its target weight.",
        "none",
    )
    parted_min = clock.now_min - drying.number
    low_min, high_min = drying.figure.low or drying.number, drying.figure.high or drying.number
    quoted = [_usual(f"dry_quoted_{end}_h") / 24.0 for end in ("low", "high")]
    return Timetable(
        entries=tuple(clock.entries),
        hands_on_h=Worked(clock.hands_min / _H, Figure("h", "sum of the hands-on minutes / 60", "practice")),
        poured_d=Worked(poured_min / _D, Figure("d", "start of parting / 1440", "practice")),
        ready_d=Worked(
            clock.now_min / _D,
            Figure(
                "d",
                drying.figure.formula,
                "derived",
                {
                    **drying.figure.inputs,
                    "drying_d": drying.number / _D,
                    "days_people_quote": f"{quoted[0]:g} to {quoted[1]:g}",
                },
                (parted_min + low_min) / _D,
                (parted_min + high_min) / _D,
            ),
        ),
        says=f"{clock.hands_min / _H:.1f} hours of work; dry after {low_min / _D:.0f} to "
        f"{high_min / _D:.0f} days at "
        f"25 °C and 50 %, by how the air moves. People quote {quoted[0]:g} to {quoted[1]:g} days; the "
        "scale decides.",
    )


def _usual(name: str) -> float:
    return shelf.value("bench", name).value


def _before(clock: _Clock, bench: Bench) -> None:
    for coat in bench.release.steps:
        if coat.wait_min.number >= 4.0 * _H:  # a seal that dries overnight, before anything else
            hands = _usual("seal_coat_min") * coat.coats_count.number
            clock.step(
                "seal the object", hands, coat.wait_min.number, "Dries overnight.", "usual for each coat"
            )
    if bench.bed is not None:
        clay_kg = bench.bed.clay_g.number / 1000.0
        share = max(clay_kg / _usual("bed_usual_kg"), 0.5)
        clock.step(
            "pad, pose and bed",
            _usual("build_bed_min") * share,
            0.0,
            "Clay up to the seam, keys pressed.",
            "usual for a bed of 2.5 kg, in proportion to its clay, at least half",
            {"clay_g": bench.bed.clay_g.number},
        )


def _one_pour(clock: _Clock, bench: Bench, pour: PourBench, *, order: int, last: bool) -> None:
    name = f"pour {pour.piece}"
    coats = [s for s in bench.release.steps if s.pour.number == order and s.wait_min.number < 4.0 * _H]
    longest = max(s.coats_count.number * s.wait_min.number for s in coats)
    clock.step(
        f"{name}: form up and sealed",
        _usual("build_form_min"),
        0.0,
        "Boards or band, coils, levels checked.",
        "usual",
    )
    clock.step(
        f"{name}: release",
        longest,
        0.0,
        "All coats, object, faces and form in turn.",
        "coats x minutes for each coat",
    )
    buckets = len(pour.mixing.buckets)
    clock.step(
        f"{name}: weigh out",
        buckets * _usual("weigh_out_min"),
        0.0,
        "Water and plaster, each bucket.",
        "usual x buckets",
    )
    end = max(b.done_at_min.number for b in pour.mixing.buckets)
    clean = _usual("clean_buckets_min")
    off = pour.after.form_off_min.number
    clock.step(
        f"{name}: sift, slake, mix, pour",
        end,
        0.0,
        "At the times of the mixing table.",
        "end of the mixing table",
    )
    clock.step(
        f"{name}: clean up while it sets",
        clean,
        max(off - clean, 0.0),
        "Until a nail leaves no dent and the heat has peaked.",
        "usual",
    )
    clock.step(
        f"{name}: form off",
        _usual("form_down_min"),
        0.0,
        "Scraped, cleaned, turned over if there is another.",
        "usual",
    )
    if pour.after.keys:
        clock.step(
            f"{name}: carve the keys",
            _usual("carve_key_min") * len(pour.after.keys),
            0.0,
            "With the template.",
            "usual x keys",
        )
    if last:
        clock.step("rest closed", 0.0, _usual("rest_h") * _H, "It hardens and cools through.", "none")


def _drying(standing: Sequence[StandingPour]) -> Worked:
    still, moving = (shelf.value("bench", f"rate_{air}_kg_per_m2_h") for air in ("still", "moving"))
    strapped = _usual("strapped_longer_factor")
    slowest = max(standing, key=lambda pour: (pour.wet_kg - pour.dry_kg) / pour.area_mm2)
    water_kg, area_m2 = slowest.wet_kg - slowest.dry_kg, slowest.area_mm2 * 1e-6
    fast_min = water_kg / (area_m2 * moving.value) * _H
    return Worked(
        fast_min * strapped,
        Figure(
            "min",
            "water to leave / (surface x rate of a wet face in moving air) x longer for strapped halves; "
            "low: open "
            "halves, high: strapped in still air",
            "derived",
            {
                "water_kg": water_kg,
                "area_m2": area_m2,
                "rate_moving_kg_per_m2_h": moving.value,
                "rate_still_kg_per_m2_h": still.value,
                "strapped_longer_factor": strapped,
            },
            fast_min,
            water_kg / (area_m2 * still.value) * _H * strapped,
        ),
    )
