"""When what is done, from the first bed to a mold that is ready to use."""

from __future__ import annotations

from dataclasses import dataclass

from claybed.records.figure import Worked


@dataclass(frozen=True, slots=True)
class Entry:
    """One step: minutes from the start of the work, hands on it, and waiting after it."""

    what: str
    start_min: Worked
    hands_min: Worked
    wait_min: Worked
    says: str


@dataclass(frozen=True, slots=True)
class Timetable:
    """The steps of one mold in order; `hands_on_h` in all, `ready_d` days until it is ready to use."""

    entries: tuple[Entry, ...]
    hands_on_h: Worked
    poured_d: Worked
    ready_d: Worked
    says: str
