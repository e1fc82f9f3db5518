"""How dry a mold piece is, by its weight on a scale."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from claybed.errors import InputError
from claybed.materials import shelf
from claybed.physics.plaster import dry_from_wet_kg
from claybed.records.figure import Figure
from claybed.records.reckoned import Reckoned
from claybed.units import CONSISTENCY_LEAST, CONSISTENCY_MOST

State = Literal["wet", "press", "slip", "dry", "below"]
WORDS: Final[dict[State, str]] = {
    "wet": "wet",
    "press": "dry enough to press in",
    "slip": "dry enough for slip",
    "dry": "shelf-dry",
    "below": "lighter than its target: was it chipped, or trimmed since?",
}
# A scale and a crumb of plaster account for this much below the target, as a share of it.
_BELOW: Final = 0.01


@dataclass(frozen=True, slots=True)
class Dryness:
    """`water_percent` of the dry mass still in the piece (negative below the target), its `state`, and
    `to_go_g` of water to the dry mass."""

    water_percent: float
    state: State
    to_go_g: float


@dataclass(frozen=True, slots=True)
class MoldWater:
    """Last weights of all pieces of a mold together, their dry targets, and when the last was weighed."""

    mass_g: float
    dry_g: float
    at: str

    def in_mold(self, mold: str) -> Reckoned:
        """Water still in a mold of that short name, per cent of its dry mass, with its working."""
        inputs: dict[str, float | str] = {
            "last_g": self.mass_g,
            "dry_g": self.dry_g,
            "weighed_at": f"{self.at[:16].replace('T', ' ')} UTC",
            "log": f"mold {mold}",
        }
        percent = max(0.0, 100.0 * (self.mass_g / self.dry_g - 1.0))
        return Reckoned(
            percent, Figure("percent", "100 (last weighings / dry masses - 1)", "measured", inputs)
        )


def water_of_mold(
    pieces: Iterable[Mapping[str, Any]], weighings: Iterable[Mapping[str, Any]]
) -> MoldWater | None:
    """The water in a mold by the register's rows; None until each piece has its dry target and was weighed.

    `pieces` with "letter" and "dry_target_g", `weighings` earliest first with "letter", "mass_g" and "at".
    """
    last = {one["letter"]: one for one in weighings}
    rows = [(piece["dry_target_g"], last.get(piece["letter"])) for piece in pieces]
    found = [(float(dry_g), one) for dry_g, one in rows if dry_g and one is not None]
    if not rows or len(found) < len(rows):
        return None
    return MoldWater(
        sum(float(one["mass_g"]) for _, one in found),
        sum(dry_g for dry_g, _ in found),
        max(str(one["at"]) for _, one in found),
    )


def dry_target_g(trimmed_wet_g: float, consistency: float) -> float:
    """Dry mass that follows from the trimmed wet mass of a piece just set, g.

    `trimmed_wet_g` above 0; `consistency` water per 100 of plaster, 20 to 200. Raises InputError outside.
    Source: physics.plaster (iupac-2021).
    """
    if not trimmed_wet_g > 0.0:
        raise InputError("a wet piece weighs something.", remedy="Type what the scale shows.")
    if not CONSISTENCY_LEAST <= consistency <= CONSISTENCY_MOST:
        raise InputError(f"{consistency:g} is no ratio of a mold.", remedy="1:1.3 is usual.")
    return 1000.0 * dry_from_wet_kg(trimmed_wet_g / 1000.0, consistency)


def dryness(mass_g: float, target_g: float) -> Dryness:
    """How dry a piece of mass `mass_g` is whose dry mass is `target_g`, both above 0, g.

    Limits of the states: materials/bench (common practice, no source).
    """
    water = (mass_g - target_g) / target_g
    limits = [(shelf.value("bench", f"{name}_fraction").value, state) for name, state in _STATES]
    state: State = next((state for limit, state in limits if water < limit), "wet")
    return Dryness(100.0 * water, "below" if water < -_BELOW else state, max(0.0, mass_g - target_g))


_STATES: Final[tuple[tuple[str, State], ...]] = (
    ("shelf_dry", "dry"),
    ("slip_ready", "slip"),
    ("press_ready", "press"),
)
