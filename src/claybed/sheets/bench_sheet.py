"""The bench sheet: one PDF that is taken to the bench, sheet one first."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, date, datetime
from importlib.resources import files
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Literal

import typst
from pypdf import PdfWriter
from pypdf.generic import DictionaryObject, NameObject

from claybed import __version__
from claybed.assets.vendored import fonts_folder
from claybed.errors import InputError
from claybed.sheets.sheet_data import sheet_values

Paper = Literal["a4", "us-letter"]
PICTURES = ("seam", "exploded", "fill", "section")


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

    `plan` has the keys of plan.json; `pictures` PNG bytes under "seam", "exploded", "fill" and "section",
    any of which may be missing; `made_on` the date printed on every page, today when None. The PDF asks
    viewers not to scale it. Raises InputError for a plan that lacks what a pour needs, an unknown paper or
    picture name.
    """
    out_pdf.write_bytes(render(plan, pictures, paper=paper, us_units=us_units, made_on=made_on))


def render(
    plan: Mapping[str, Any],
    pictures: Mapping[str, bytes],
    *,
    paper: Paper = "a4",
    us_units: bool = False,
    made_on: date | None = None,
) -> bytes:
    """The bench sheet as PDF bytes; arguments and errors as in `write`."""
    if paper not in ("a4", "us-letter"):
        raise InputError(f"No paper called {paper!r}.", where="paper", remedy="Use a4 or us-letter.")
    for name in pictures:
        if name not in PICTURES:
            raise InputError(
                f"No place for a picture called {name!r}.", where="bench sheet", remedy=", ".join(PICTURES)
            )
    day = made_on if made_on is not None else datetime.now(UTC).astimezone().date()
    values = sheet_values(
        plan, made_on=day, version=__version__, pictures=sorted(pictures), us_units=us_units
    )
    return unscaled(compiled(values, pictures, paper, day))


def compiled(values: Mapping[str, Any], pictures: Mapping[str, bytes], paper: str, day: date) -> bytes:
    """Typeset the values with the shipped typeface alone; text from a plan is data and is never read as
    markup."""
    with TemporaryDirectory() as made:
        folder = Path(made)
        for template in files("claybed.sheets").joinpath("templates").iterdir():
            if template.name.endswith(".typ"):
                (folder / template.name).write_bytes(template.read_bytes())
        for name, png in pictures.items():
            (folder / f"{name}.png").write_bytes(png)
        pdf = typst.compile(
            str(folder / "bench_sheet.typ"),
            root=made,
            font_paths=[str(fonts_folder())],
            ignore_system_fonts=True,
            sys_inputs={"data": json.dumps(values, ensure_ascii=False), "paper": paper},
            timestamp=int(datetime(day.year, day.month, day.day, tzinfo=UTC).timestamp()),
            format="pdf",
        )
    return bytes(pdf)


def unscaled(pdf: bytes) -> bytes:
    """The same PDF, asking the print dialogue not to fit it to the paper: a ruler on the sheet has to be
    true."""
    writer = PdfWriter(clone_from=BytesIO(pdf))
    wishes = writer.root_object.get("/ViewerPreferences")
    wishes = DictionaryObject(wishes.get_object()) if wishes is not None else DictionaryObject()
    wishes[NameObject("/PrintScaling")] = NameObject("/None")
    writer.root_object[NameObject("/ViewerPreferences")] = wishes
    out = BytesIO()
    writer.write(out)
    return out.getvalue()
