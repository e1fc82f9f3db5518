"""One mold from the first bed to the shelf: hands-on time and waiting, step by step."""

from __future__ import annotations

from typing import Literal

from claybed.materials import shelf
from claybed.records.bench import Bench, PourBench
from claybed.records.figure import Figure, Worked
from claybed.records.timetable import Entry, Timetable
from claybed.records.ware import Drying

_H = 60.0
_D = 24.0 * 60.0
# How dry a mold must be for what it is for, and how that is said.
_READY = {"slip": ("slip_ready", "ready for slip"), "press": ("press_ready", "ready to press")}


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
        hands = Worked(hands_min, Figure("min", why, "practice", dict(inputs or {})))
        wait = Worked(wait_min, Figure("min", f"waiting: {says}" if wait_min else "none", "practice"))
        self._add(what, hands, wait, says)

    def rest(self, what: str, wait: Worked, says: str) -> None:
        """One step of waiting alone, with the working of its length."""
        self._add(what, Worked(0.0, Figure("min", "none", "practice")), wait, says)

    def _add(self, what: str, hands: Worked, wait: Worked, says: str) -> None:
        start = Worked(self.now_min, Figure("min", "end of the step before", "derived"))
        self.entries.append(Entry(what, start, hands, wait, says))
        self.now_min += hands.number + wait.number
        self.hands_min += hands.number


def plan_timetable(bench: Bench, drying: Drying, use: Literal["slip", "press"]) -> Timetable:
    """The timetable of one mold that dries as `drying` tells, until it may be put to its `use`.

    Times of hands are common practice, no source (materials/bench); drying is taken as the ware stage
    reckoned it, for halves that are closed and strapped. The days that people quote stand beside it and enter
    nothing (materials/drying).
    """
    clock = _Clock()
    _before(clock, bench)
    for place, pour in enumerate(bench.pours):
        _one_pour(clock, bench, pour, order=place + 1, last=place == len(bench.pours) - 1)
    poured_min = clock.now_min
    clock.step(
        "part and wash the mold",
        _usual("finish_min"),
        0.0,
        "Opening, washing, weighing.",
        "usual",
    )
    parted_min = clock.now_min
    wait = _drying(drying, use)
    clock.rest("dry on the shelf", wait, "Weigh it now and then; it is ready at its target weight.")
    low_min, high_min = wait.figure.low or 0.0, wait.figure.high or 0.0
    shelf_d = shelf.value("drying", "quoted_shelf_d")
    quoted = f"{shelf_d.low:g} to {shelf_d.high:g}"
    return Timetable(
        entries=tuple(clock.entries),
        hands_on_h=Worked(clock.hands_min / _H, Figure("h", "sum of the hands-on minutes / 60", "practice")),
        poured_d=Worked(poured_min / _D, Figure("d", "start of parting / 1440", "practice")),
        ready_d=Worked(
            clock.now_min / _D,
            Figure(
                "d",
                "start of drying + drying",
                "derived",
                {
                    "drying_starts_d": parted_min / _D,
                    "drying_d": wait.number / _D,
                    "days_people_quote": quoted,
                },
                (parted_min + low_min) / _D,
                (parted_min + high_min) / _D,
            ),
        ),
        says=f"{clock.hands_min / _H:.1f} hours of work. "
        f"{'Closed and strapped, in' if len(bench.pours) > 1 else 'On slats, in'} a room of "
        f"{drying.air_celsius.value:.0f} °C and {drying.humidity_percent.value:.0f} % whose air hardly "
        f"moves, it is {_READY[use][1]} {_days(wait.number, low_min, high_min)}. People quote {quoted} days, "
        "from shelves in moving air or from molds that are used damp; the scale decides.",
    )


def _days(minutes: float, low_min: float, high_min: float) -> str:
    """When a mold is ready, in whole days after it is parted, with the spread that the room leaves."""
    days, low, high = (round(part / _D) for part in (minutes, low_min, high_min))
    if high_min == 0.0:
        return "as soon as it is parted"
    if high <= 1:
        return "after a day at most"
    if low == high:
        return f"after about {high} days"
    about = f"about {days} day{'s' if days > 1 else ''}" if days else "a day or less"
    return f"after {about} ({low} to {high}, by how warm, dry and lively the air is)"


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
            "pose and bed",
            _usual("build_bed_min") * share,
            0.0,
            "Clay up to the seam, keys pressed."
            if bench.bed.pad_mm.number > 0.0
            else "Sand round the vessel, clay level with its rim.",
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
        "Coats of the form; later of faces and object.",
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
        "At the times of its page.",
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


def _drying(drying: Drying, use: Literal["slip", "press"]) -> Worked:
    """Minutes until the mold may be used, none when it never held more water than may stay."""
    (state,) = (state for state in drying.states if state.id == _READY[use][0])
    if state.hours is None:
        return Worked(0.0, Figure("min", "it holds no more water than may stay", "derived", {}, 0.0, 0.0))
    return Worked(
        state.hours.value * _H,
        Figure(
            "min",
            f"hours until it is {_READY[use][1]} x 60",
            "derived",
            {"hours": state.hours.value},
            state.hours.low * _H,
            state.hours.high * _H,
        ),
    )
