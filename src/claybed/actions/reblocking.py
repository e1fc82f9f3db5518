"""A planned mold at another wall or outside, told at once while a slider is moved; the plan follows later."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from claybed.actions.planning import known_source, reader_of
from claybed.actions.sizing import sized_brief
from claybed.flow.blocks import Shape, blocks_of
from claybed.flow.course import run_mold, run_survey

# Getting ready may take as long as planning did, also where it begins with reading.
_PHASE = "mold"


def make_blocker(payload: Mapping[str, Any]) -> Callable[[Any], dict[str, Any]]:
    """Get a planned mold ready, and return what tells its block at any wall and outside.

    `payload` has "path" of the object's file, the "brief" that was planned, and "progress", which is told how
    far it is: a mold that this machine has forgotten is cut anew. A question is (wall in mm,
    "auto", "boxed" or "round"); the answer has shape, outer_mm, wall_mm and plaster_ml of all pieces
    together. Raises InputError and CannotError as flow.blocks does.
    """
    path, brief = Path(payload["path"]), payload["brief"]
    tell = payload["progress"]

    def progress(phase: str, done: float) -> None:
        tell(_PHASE if phase == "reading" else phase, done)

    source, store = known_source(path)
    brief = sized_brief(brief, reader_of(path), source, store, progress)
    start = run_survey(reader_of(path), brief, source, store, progress)
    molded = run_mold(start, brief, source, store, progress)
    at = blocks_of(start.obj, molded, brief)

    def answer(question: Any) -> dict[str, Any]:
        wall_mm, wished = question
        shape: Shape = wished if wished in ("boxed", "round") else "auto"
        block = at(float(wall_mm), shape)
        return {
            "shape": block.shape,
            "outer_mm": list(block.outer_mm),
            "wall_mm": block.wall_mm,
            "plaster_ml": block.plaster_ml,
        }

    return answer
