"""The bench sheet: one PDF that is taken to the bench, sheet one first."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import UTC, date, datetime
from io import BytesIO
from pathlib import Path
from typing import Any, Literal

from pypdf import PdfReader

from claybed import __version__
from claybed.errors import InputError
from claybed.sheets.sheet_data import sheet_values
from claybed.sheets.typesetting import compiled, unscaled

Paper = Literal["a4", "us-letter"]
PICTURES = ("seam", "exploded", "fill", "fill-beyond", "section", "bed", "left", "right", "cast-map")
FORM = re.compile(r"form-[A-Z]+(-above)?")
LETTER_WIDE_PT = 612.0


def write(
    plan: Mapping[str, Any],
    pictures: Mapping[str, bytes],
    out_pdf: Path,
    *,
    paper: Paper = "a4",
    us_units: bool = False,
    made_on: date | None = None,
) -> None:
    """Write the bench sheet of a plan.

    `plan` has the keys of plan.json; `pictures` PNG bytes by the names that `is_picture` knows, any of
    which may be missing; `made_on` the date printed on every page, today when None. The PDF asks viewers not
    to scale it. Raises InputError for a plan that lacks what a pour needs, an unknown paper or picture name.
    """
    out_pdf.write_bytes(render(plan, pictures, paper=paper, us_units=us_units, made_on=made_on))


def render(
    plan: Mapping[str, Any],
    pictures: Mapping[str, bytes],
    *,
    paper: Paper = "a4",
    us_units: bool = False,
    made_on: date | None = None,
    cast_map: Mapping[str, Any] | None = None,
) -> bytes:
    """The bench sheet as PDF bytes; arguments and errors as in `write`.

    `cast_map` is the document of a map kept with the plan, for the ware page, whose picture is "cast-map".
    """
    if paper not in ("a4", "us-letter"):
        raise InputError(f"No paper called {paper!r}.", where="paper", remedy="Use a4 or us-letter.")
    for name in pictures:
        if not is_picture(name):
            raise InputError(
                f"No place for a picture called {name!r}.", where="bench sheet", remedy=", ".join(PICTURES)
            )
    day = made_on if made_on is not None else datetime.now(UTC).astimezone().date()
    values = sheet_values(
        plan,
        made_on=day,
        version=__version__,
        pictures=sorted(pictures),
        us_units=us_units,
        cast_map=cast_map,
    )
    return unscaled(compiled("bench_sheet.typ", values, pictures, paper, day))


def is_picture(name: str) -> bool:
    """Whether the sheet has a place for a picture: one of PICTURES, or what stands in the form of a piece,
    from the front ("form-A") and from above ("form-A-above").
    """
    return name in PICTURES or FORM.fullmatch(name) is not None


def in_us_units(sheet_pdf: bytes) -> bool:
    """Whether a bench sheet was printed on Letter, and so in US units."""
    width_pt = float(PdfReader(BytesIO(sheet_pdf)).pages[0].mediabox.width)
    return abs(width_pt - LETTER_WIDE_PT) < 1.0
