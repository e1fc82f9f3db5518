"""Triangles as they stand in a file, before anything is mended or scaled."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claybed.errors import InputError
from claybed.records.finding import Finding
from claybed.records.measuring import Measuring

Points = NDArray[np.float64]
Triples = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Soup:
    """What a format reader hands on.

    `vertices` (n, 3) float64 in the file's own unit; `faces` (m, 3) int64; `format_name` for sentences;
    `unit` the length unit the file itself states, or None; `findings` what the reader has to say;
    `measuring` and `mass_g` what an object file says of how it was measured.
    """

    vertices: Points
    faces: Triples
    format_name: str
    unit: str | None = None
    findings: tuple[Finding, ...] = ()
    measuring: Measuring | None = None
    mass_g: float | None = None


def triangle_limit(count: int, most: int, where: str) -> None:
    """Refuse a file that holds, or says it holds, more than `most` triangles. Raises InputError."""
    if count > most:
        raise InputError(
            f"holds {count:,} triangles, more than the limit of {most:,}.",
            where=where,
            remedy="Export it coarser, or raise --max-triangles.",
        )


def checked(soup: Soup, where: str, most: int) -> Soup:
    """The soup itself once its arrays hold together: faces present, indices in range, not over `most`.

    Raises InputError otherwise. Finite coordinates are the mending's concern.
    """
    if len(soup.faces) == 0 or len(soup.vertices) == 0:
        raise InputError(
            f"is a {soup.format_name} file without a single triangle.",
            where=where,
            remedy="Export the object as a surface mesh.",
        )
    triangle_limit(len(soup.faces), most, where)
    lowest, highest = int(soup.faces.min()), int(soup.faces.max())
    if lowest < 0 or highest >= len(soup.vertices):
        bad = lowest if lowest < 0 else highest
        raise InputError(
            f"a face names point {bad:,} of {len(soup.vertices):,}; the file is damaged.",
            where=where,
            remedy="Export it again.",
        )
    return soup
