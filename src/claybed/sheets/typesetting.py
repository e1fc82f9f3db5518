"""Values and pictures typeset into a PDF that asks not to be scaled."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, date, datetime
from importlib.resources import files
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import typst
from pypdf import PdfWriter
from pypdf.generic import DictionaryObject, NameObject

from claybed.assets.vendored import fonts_folder


def compiled(
    template: str, values: Mapping[str, Any], pictures: Mapping[str, bytes], paper: str, day: date
) -> bytes:
    """Typeset values with one of the shipped templates and the shipped typeface alone.

    `pictures` PNG bytes by name; text from a plan is data and is never read as markup.
    """
    with TemporaryDirectory() as made:
        folder = Path(made)
        for shipped in files("claybed.sheets").joinpath("templates").iterdir():
            if shipped.name.endswith(".typ"):
                (folder / shipped.name).write_bytes(shipped.read_bytes())
        for name, png in pictures.items():
            (folder / f"{name}.png").write_bytes(png)
        pdf = typst.compile(
            str(folder / template),
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
    true.
    """
    writer = PdfWriter(clone_from=BytesIO(pdf))
    wishes = writer.root_object.get("/ViewerPreferences")
    wishes = DictionaryObject(wishes.get_object()) if wishes is not None else DictionaryObject()
    wishes[NameObject("/PrintScaling")] = NameObject("/None")
    writer.root_object[NameObject("/ViewerPreferences")] = wishes
    out = BytesIO()
    writer.write(out)
    return out.getvalue()
