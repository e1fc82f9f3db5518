"""What is asked of the tidying of a scan."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Wishes:
    """What is asked of tidying. `table` cut it away; `clear_mm` how far above it the cut runs at least;
    `scraps` drop what floats; `smooth_mm` most that noise is smoothed by, 0 for none; `most_faces` triangles
    kept, 0 for all; `up` a direction of the file that is up, None to find it; `body` which of several.
    """

    table: bool = True
    clear_mm: float = 1.0
    scraps: bool = True
    smooth_mm: float = 0.2
    most_faces: int = 60_000
    up: tuple[float, float, float] | None = None
    body: int | None = None
