"""Where the files of other people lie inside the package: the typeface and the 3D library."""

from __future__ import annotations

import base64
from importlib.resources import as_file, files
from pathlib import Path


def fonts_folder() -> Path:
    """The folder of the typeface's TTF files, for typesetters that take a folder."""
    with as_file(files("claybed.assets") / "fonts") as folder:
        return folder


def font_file(style: str = "Regular") -> Path:
    """The TTF of one style: "Regular", "SemiBold" or "Bold"; raises FileNotFoundError for another."""
    path = fonts_folder() / f"AtkinsonHyperlegibleNext-{style}.ttf"
    if not path.is_file():
        raise FileNotFoundError(path)
    return path


def font_base64(style: str) -> str:
    """The small web font of a style ("Regular" or "Bold") in base64, to be put into a page."""
    path = fonts_folder() / f"AtkinsonHyperlegibleNext-{style}.woff2"
    return base64.b64encode(path.read_bytes()).decode("ascii")


def three_source() -> str:
    """The 3D library as one script that sets the name THREE."""
    return (files("claybed.assets") / "three" / "three.bundle.min.js").read_text(encoding="utf-8")


def licence(folder: str) -> str:
    """The licence text that goes with a vendored folder, "fonts" or "three"."""
    name = {"fonts": "OFL.txt", "three": "LICENSE"}[folder]
    return (files("claybed.assets") / folder / name).read_text(encoding="utf-8")
