"""What space an object takes up, from whatever file it is in."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from claybed.flow.describing import bounds_ml
from claybed.intake.guard import sniff
from claybed.intake.object_file import read_description
from claybed.intake.reading import read_object
from claybed.records.measuring import VolumeBand

Progress = Callable[[str, float], None]


def run(payload: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """The volume of the object in a file, ml, with the ends of its 95 % interval.

    `payload` has "path" and "brief"; an object file is asked for what it says, a mesh is read. Raises
    InputError as intake does.
    """
    path = Path(payload["path"])
    progress("reading", 0.0)
    if sniff(path).kind == "claybed":
        told = read_description(path)
        volume_ml, band, says = told.volume_ml, told.measuring.band, told.measuring.says
    else:
        found = read_object(path, payload["brief"], progress=progress)
        volume_ml, band, says = found.solid_ml, VolumeBand(), found.unit.says
    low_ml, high_ml = bounds_ml(volume_ml, band)
    return {"volume_ml": volume_ml, "low_ml": low_ml, "high_ml": high_ml, "says": says}
