"""What an object file says of its object."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from claybed.intake.object_file import read_description

Progress = Callable[[str, float], None]


def run(payload: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """The description of the object file at "path" of `payload`, as object.json holds it.

    Raises InputError for a file that is none or is damaged.
    """
    progress("reading", 0.0)
    return dict(read_description(Path(payload["path"])).document)
