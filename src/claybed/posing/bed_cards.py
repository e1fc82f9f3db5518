"""Which cards of the bed are cut: those that tell a level that the others do not."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from claybed.geometry.mesh import Floats
from claybed.materials import shelf
from claybed.posing.stations import SeamLine
from claybed.posing.steep import Stretch, stretches
from claybed.records.pose import BedCard, Station

# More stations than this between two cards call for one between.
FAR_STATIONS = 2
# A station so near the end of a steep place stands on its level.
ON_LEVEL_MM = 5.0
RUN_STEP_MM = 0.5


def card_mm(name: str) -> float:
    """A length that decides on cards of the bed, mm. Source: materials/practice (bed_card_...)."""
    return shelf.value("practice", f"bed_card_{name}").value


def standing(
    cards: Sequence[BedCard], stations: Sequence[Station], lines: Sequence[SeamLine]
) -> tuple[BedCard, ...]:
    """So many cards as stand side by side without crossing: first one on each level beside a steep place of
    the seam, then some spread evenly, then the highest and the lowest of each run between them, then those
    that rise most. None stands within a steep place: its edge would be neither its top nor its foot.
    """
    steep = {loop: stretches(line) for loop, line in enumerate(lines, start=1)}
    usable = [card for card in cards if not _within(stations[card.station - 1], steep, lines)]
    row = _Row(stations)
    for level in _beside_steep(usable, stations, steep, lines):
        # The nearest that has room.
        any(row.stand(card, short=True) for card in level)
    many = shelf.value("bench", "bed_cards_most_count").value
    for card in usable[:: max(1, math.ceil(len(usable) / many))]:
        row.stand(card)
    for card in _between(usable, stations, row.chosen):
        row.stand(card, short=True)
    for card in sorted(usable, key=lambda c: -float(np.ptp(c.outline[2:, 1]))):
        if all(abs(card.station - other.station) > FAR_STATIONS for other in row.chosen):
            row.stand(card)
    return tuple(sorted(row.chosen, key=lambda card: card.station))


class _Row:
    """Cards that stand beside one another."""

    def __init__(self, stations: Sequence[Station]) -> None:
        self._stations = stations
        self._lines: list[Floats] = []
        self.chosen: list[BedCard] = []

    def stand(self, card: BedCard, *, short: bool = False) -> bool:
        """Add a card where it keeps clear of those that stand, cut short before it meets one if it may be
        `short`; whether it stands now.
        """
        if any(card.station == other.station for other in self.chosen):
            return True
        station = self._stations[card.station - 1]
        run = float(card.outline[:, 0].max())
        reach = np.arange(0.0, run, RUN_STEP_MM)
        line: Floats = np.array(station.at_mm) + reach[:, None] * np.array(station.out)
        for other in self._lines:
            met = np.linalg.norm(line[:, None] - other[None], axis=2).min(axis=1) <= card_mm("beside_mm")
            if not met.any():
                continue
            free = int(np.argmax(met))
            if not short or free * RUN_STEP_MM < card_mm("short_least_mm"):
                return False
            line = line[:free]
        end_mm = (len(line) - 1) * RUN_STEP_MM
        self._lines.append(line)
        self.chosen.append(card if len(line) == len(reach) else BedCard(card.station, _cut(card, end_mm)))
        return True


def _cut(card: BedCard, run_mm: float) -> Floats:
    """The outline of a card that ends at a run from the seam."""
    top = card.outline[2:][::-1]
    inner = top[top[:, 0] < run_mm]
    end = np.array([[run_mm, float(np.interp(run_mm, top[:, 0], top[:, 1]))]])
    foot = np.array([[0.0, 0.0], [run_mm, 0.0]])
    return np.concatenate([foot, end, inner[::-1]])


def _within(station: Station, steep: dict[int, list[Stretch]], lines: Sequence[SeamLine]) -> bool:
    """Whether a station stands between the two levels of a steep place."""
    line = lines[station.loop - 1]
    for one in steep[station.loop]:
        ran_mm = station.along_mm - one.from_mm
        if line.closed:
            ran_mm %= line.length_mm
        if ON_LEVEL_MM < ran_mm < one.to_mm - one.from_mm - ON_LEVEL_MM:
            return True
    return False


def _beside_steep(
    cards: Sequence[BedCard],
    stations: Sequence[Station],
    steep: dict[int, list[Stretch]],
    lines: Sequence[SeamLine],
) -> list[list[BedCard]]:
    """For each level beside a steep place the cards on it, the nearest first."""
    found = []
    reach_mm = shelf.value("bench", "bed_card_reach_mm").value
    for loop, line in enumerate(lines, start=1):
        mine = [card for card in cards if stations[card.station - 1].loop == loop]
        for one in steep[loop]:
            for end_mm, sense in ((one.from_mm, -1.0), (one.to_mm, 1.0)):
                ran = {}
                for card in mine:
                    mm = sense * (stations[card.station - 1].along_mm - end_mm) + ON_LEVEL_MM
                    ran[card.station] = mm % line.length_mm if line.closed else mm
                near = [c for c in mine if 0.0 <= ran[c.station] <= reach_mm]
                found.append(sorted(near, key=lambda c: ran[c.station]))
    return found


def _between(
    cards: Sequence[BedCard], stations: Sequence[Station], chosen: Sequence[BedCard]
) -> list[BedCard]:
    """In each run between two cards the highest and the lowest place, where they tell of neither."""
    found = []
    have = sorted(card.station for card in chosen)
    for one, other in pairwise(have):
        first, last = stations[one - 1], stations[other - 1]
        if first.loop != last.loop:
            continue
        over: dict[int, float] = {}
        for card in cards:
            if one < card.station < other:
                station = stations[card.station - 1]
                share = (station.along_mm - first.along_mm) / (last.along_mm - first.along_mm)
                told_mm = first.seam_mm + share * (last.seam_mm - first.seam_mm)
                over[card.station] = station.seam_mm - told_mm
        ends = {max(over, key=over.__getitem__), min(over, key=over.__getitem__)} if over else set()
        found += [c for c in cards if c.station in ends and abs(over[c.station]) > card_mm("told_mm")]
    return sorted(found, key=lambda c: c.station)
