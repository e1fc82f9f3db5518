"""Files of other people are the ones that were fetched, and each lies beside its licence."""

import hashlib
import json
from importlib.resources import files

import pytest

from claybed.assets import palette, vendored

ASSETS = files("claybed.assets")
ENTRIES = json.loads((ASSETS / "VENDOR.json").read_text(encoding="utf-8"))["vendored"]


@pytest.mark.parametrize("entry", ENTRIES, ids=[e["name"] for e in ENTRIES])
def test_every_vendored_file_has_its_hash(entry: dict) -> None:
    """No file was changed, added or lost since it was vendored, and its licence is there."""
    folder = ASSETS / entry["folder"]
    there = {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in folder.iterdir() if p.is_file()}
    assert there == entry["sha256"]
    assert entry["licence_file"] in there
    assert entry["version"] and entry["licence"] in ("OFL-1.1", "MIT", "0BSD")


def test_licences_are_those_named() -> None:
    """The texts are the open ones they are said to be."""
    assert "SIL OPEN FONT LICENSE Version 1.1" in vendored.licence("fonts")
    assert "The MIT License" in vendored.licence("three")


def test_fonts_are_found_by_style() -> None:
    """Each style has its file, and a style that is not shipped is refused."""
    for style in ("Regular", "SemiBold", "Bold"):
        assert vendored.font_file(style).stat().st_size > 20_000
    with pytest.raises(FileNotFoundError):
        vendored.font_file("Italic")


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour."""
    parts = [v / 255.0 for v in palette.rgb(colour)]
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("bench", [palette.LIGHT, palette.DARK], ids=["light", "dark"])
@pytest.mark.parametrize("ink", ["text", "quiet", "act", "holds", "look", "stop", "water"])
@pytest.mark.parametrize("ground", ["ground", "sheet"])
def test_text_stands_out_from_its_ground(bench: dict[str, str], ink: str, ground: str) -> None:
    """Contrast of every text colour on both grounds is at least 5 : 1."""
    a, b = sorted((luminance(bench[ink]), luminance(bench[ground])))
    assert (b + 0.05) / (a + 0.05) >= 5.0


def test_first_two_pieces_differ_in_more_than_colour() -> None:
    """A colour that is no colour is refused, and pieces keep colours of their own."""
    assert len(set(palette.PIECES)) == len(palette.PIECES)
    with pytest.raises(ValueError, match="not a colour"):
        palette.rgb("sand")
