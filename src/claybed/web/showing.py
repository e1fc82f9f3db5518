"""What a new studio sees first: the gourd of Ninepin Yard, surveyed and planned."""

from __future__ import annotations

import tempfile
from importlib.resources import as_file, files
from pathlib import Path
from typing import Final

from claybed.register import keeping
from claybed.web.studio import Studio

# The first page is there before the gourd is looked at.
_FIRST_PAGE_S: Final = 1.5
_ASKED: Final = {"height_mm": "180mm", "mass_g": "310g"}


def show_demo(studio: Studio) -> None:
    """Bring the demonstration object into an empty register and begin to plan it; never twice."""
    with studio.register.writing() as db:
        new = db.execute("SELECT 1 FROM setting WHERE name = 'demo'").fetchone() is None
        empty = not keeping.objects(db)
        if new:
            db.execute("INSERT INTO setting (name, value) VALUES ('demo', ?)", ("shown" if empty else "no",))
    if not (new and empty):
        return
    with (
        as_file(files("claybed.assets") / "demo" / "gourd.stl") as source,
        tempfile.NamedTemporaryFile(
            dir=studio.settings.data, prefix=".upload-", suffix=".stl", delete=False
        ) as out,
    ):
        out.write(source.read_bytes())
    studio.board.keep_quiet(_FIRST_PAGE_S)
    object_id, _ = studio.take_in(
        name="Dried gourd of Ninepin Yard", how="file", file=Path(out.name), suffix=".stl", typed=_ASKED
    )
    studio.plan(object_id, {})
