"""When a mold piece on the shelf is ready: by its weighings where there are enough, else by room and size."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from threading import Lock
from typing import Any, Final

from claybed.actions.drying import DryWish, dry_document
from claybed.errors import InputError
from claybed.flow.ware_document import document_of
from claybed.records.weighing import Weighing
from claybed.ware.drying import Room
from claybed.ware.weighing import check_weighing, forecast, is_just_set

_ONE_AT_A_TIME: Final = Lock()


@dataclass(frozen=True, slots=True)
class ShelfPiece:
    """A mold piece as the register knows it.

    `weighings` earliest first; `consistency` of its mix; `trimmed_wet_g` weighed just set and trimmed, or
    None; `planned_wet_g` by its volume, or None; `set_at_s` when it was poured or set, seconds since the
    epoch, or None; `plan` folder or None; `opened` when pieces dry apart instead of strapped together.
    """

    letter: str
    weighings: tuple[Weighing, ...]
    consistency: float
    room: Room
    trimmed_wet_g: float | None = None
    planned_wet_g: float | None = None
    set_at_s: float | None = None
    plan: Path | None = None
    opened: bool = False

    @property
    def wet_g(self) -> float | None:
        """Mass just set: as weighed, else the first weighing if near the plan’s, else the plan’s."""
        if self.trimmed_wet_g is not None:
            return self.trimmed_wet_g
        first = self.weighings[0].mass_g if self.weighings else None
        if first is None or (self.planned_wet_g is not None and not is_just_set(first, self.planned_wet_g)):
            return self.planned_wet_g
        return first


def foretold(piece: ShelfPiece) -> dict[str, Any]:
    """What weight and room say of the days to come, as plain values.

    `by` is "scale" for a curve fitted to the weighings, "room" for one worked out from size and air, "" when
    neither is known. `from_s` is the moment that `hours` count from, None when it has not set yet. Each of
    `states` has `id`, `reached`, `mass_g` or None, `hours` with `low_h` and `high_h` or None. `odd` are
    questions about the weighings, `trouble` why nothing is foretold, `document` the whole working or None.
    """
    with _ONE_AT_A_TIME:  # a page of many molds must not take every core from those who log
        return _foretold(piece)


def refuse_impossible(mass_g: float, *, consistency: float, trimmed_wet_g: float) -> None:
    """Raise InputError for a mass that a piece of that trimmed wet mass, g, can never have."""
    try:
        check_weighing(Weighing(0.0, mass_g), consistency, trimmed_wet_g)
    except InputError as error:
        raise InputError(error.what, where="the weight", remedy=error.remedy) from None


@lru_cache(maxsize=512)
def _foretold(piece: ShelfPiece) -> dict[str, Any]:
    told: dict[str, Any] = {
        "by": "", "from_s": None, "states": [], "odd": [], "trouble": "", "document": None,
        "water_percent": None, "dry_g": None,
    }  # fmt: skip
    try:
        log = _by_the_scale(piece) if piece.weighings else None
        enough = log is not None and "loss_g_per_day" in log
        if log is not None:
            told["odd"] = log["findings"]
            told |= {key: log[key] for key in ("water_percent", "dry_g")}
        document = log if enough or piece.plan is None else _by_the_room(piece, log)
    except InputError as error:
        return told | {"trouble": f"{error.what[:1].upper()}{error.what[1:]} {error.remedy}".strip()}
    if document is None:
        return told
    told["document"] = document
    if document is log:
        told |= {"by": "scale", "from_s": piece.weighings[-1].at_s}
        told["states"] = [_state(row, document, f"/ready/{k}") for k, row in enumerate(document["ready"])]
        return told
    told |= {"by": "room", "from_s": piece.weighings[-1].at_s if piece.weighings else piece.set_at_s}
    told["states"] = [_state(row, document, f"/states/{k}") for k, row in enumerate(document["states"])]
    if told["dry_g"] is None:
        told["dry_g"] = document.get("dry_g")
    return told


def _by_the_scale(piece: ShelfPiece) -> dict[str, Any]:
    found = forecast(piece.weighings, water_per_100=piece.consistency, trimmed_wet_g=piece.wet_g)
    return document_of(found, findings=found.findings)


def _by_the_room(piece: ShelfPiece, log: Mapping[str, Any] | None) -> dict[str, Any]:
    percent = None if log is None else max(float(log["water_percent"]), 0.01)
    wish = DryWish(
        wet_g=piece.trimmed_wet_g,
        consistency=piece.consistency,
        room=piece.room,
        moisture_percent=percent,
        plan=piece.plan,
        piece=piece.letter,
        opened=piece.opened,
    )
    return dry_document(wish)


def _state(row: Mapping[str, Any], document: Mapping[str, Any], at: str) -> dict[str, Any]:
    hours = row.get("hours")
    figure = document["figures"].get(f"{at}/hours", {})
    low, high = figure.get("low"), figure.get("high")
    return {
        "id": row["id"],
        "pointer": f"{at}/hours",
        "mass_g": row.get("mass_g"),
        "reached": bool(row.get("reached", hours is None)),
        "hours": hours,
        "low_h": hours if low is None else low,
        "high_h": hours if high is None else high,
    }
