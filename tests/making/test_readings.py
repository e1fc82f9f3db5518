"""Readings as people type them: units, columns, marks, and what is said of bad ones."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from claybed.errors import InputError
from claybed.making.readings import read_form, usual_reading_mm
from claybed.records.form import Form, Reading, Section

PLAIN = Form((Reading(0, 62, 62), Reading(40, 98, 98)), reading_mm=0.5)


def form_of(text: str, name: str = "vase.csv", **asked: Any) -> Form:
    """Return the form that a file of this text makes."""
    return read_form(text.encode(), name, asked)


@pytest.mark.parametrize(
    "text",
    [
        "height,diameter\n0,62\n40,98\n",
        "0,62\n40,98",
        "height_mm;diameter_mm\n0;62\n40;98\n",
        "Height (cm)\tDiameter (cm)\n0\t6,2\n4\t9.8\n",
        "# the grey vase\n\nz, d\n0, 62mm\n4cm, 9.8 cm\n",
        "\ufeffheight,width,depth\r\n0,62,62\r\n40,98,98\r\n",
    ],
)
def test_the_same_two_readings(text: str) -> None:
    """Commas, semicolons, tabs, decimal commas, units and comments all give the same form."""
    found = form_of(text)
    got, plain = ([(r.height_mm, r.width_mm, r.depth_mm) for r in f.outside] for f in (found, PLAIN))
    assert np.allclose(got, plain)
    assert found.reading_mm == usual_reading_mm()


def test_inches_as_typed() -> None:
    """A unit asked for is taken by bare numbers; fractions keep their own."""
    found = form_of("0,2 1/2 in\n4,3", unit="in")
    got = [(r.height_mm, r.width_mm) for r in found.outside]
    assert np.allclose(got, [(0, 63.5), (101.6, 76.2)])


def test_inside_and_corner_columns() -> None:
    """The inside begins at the first level that has one; a marked corner is kept."""
    found = form_of("height,diameter,inside,corner\n0,60,,\n6,66,50,\n40,84,76,x\n90,86,78,\n")
    assert [(r.height_mm, r.width_mm) for r in found.inside] == [(6, 50), (40, 76), (90, 78)]
    assert [r.sharp for r in found.outside] == [False, False, True, False]


def test_width_and_depth_make_an_oval() -> None:
    """Readings that differ in width and depth are oval unless another section is asked for."""
    text = "height,width,depth\n0,60,40\n50,80,50\n"
    assert form_of(text).section.kind == "oval"
    asked = form_of(text, section="rectangle", corner_mm=5.0)
    assert asked.section == Section("rectangle", 2.0, 5.0)


TOML = """
unit = "cm"
section = "superellipse"
exponent = 3
reading = "1mm"
foot_inside = 4.6
foot_deep = "3mm"
lip = "round"
outside = [[0, 6], [4.5, 8.4, "sharp"], [9.2, 8.6, 8.0]]
inside = [[0.7, 4.8], [9.2, 7.8]]
[[handle]]
path = [[4, 7.6], [7, 6.2], [4, 2.4]]
width = "15mm"
thick = 0.9
around = 90
"""


def test_toml_says_all_of_it() -> None:
    """Every key of the TOML form arrives in millimetres."""
    found = form_of(TOML, "mug.toml")
    assert found.section == Section("superellipse", 3.0, 0.0)
    assert (found.reading_mm, found.foot_inside_mm, found.foot_deep_mm, found.lip) == (
        1.0,
        46.0,
        3.0,
        "round",
    )
    assert found.outside[1] == Reading(45.0, 84.0, 84.0, sharp=True)
    assert found.outside[2] == Reading(92.0, 86.0, 80.0)
    assert found.inside[0] == Reading(7.0, 48.0, 48.0)
    (handle,) = found.tubes
    assert (handle.name, handle.width_mm, handle.thick_mm, handle.around_deg) == ("handle", 15.0, 9.0, 90.0)
    assert handle.path_mm[1] == pytest.approx((70.0, 62.0))


def test_what_is_asked_outweighs_the_file() -> None:
    """Options replace what the file says, and only that."""
    found = form_of(TOML, "mug.toml", lip="flat", reading_mm=0.2)
    assert (found.lip, found.reading_mm, found.section.kind) == ("flat", 0.2, "superellipse")


WRONG: dict[str, tuple[str, str, dict[str, Any], str]] = {
    "empty": ("", "a.csv", {}, "holds no readings"),
    "words": ("hello\nworld\n", "a.csv", {}, "one column"),
    "column": ("height,colour\n0,62\n", "a.csv", {}, "column “colour” is not known"),
    "no_height": ("diameter,inside\n62,40\n", "a.csv", {}, "lacks a column"),
    "two_units": ("height_mm,diameter_cm\n0,62\n", "a.csv", {}, "two units"),
    "hole": ("height,diameter\n0,62\n40,\n", "a.csv", {}, "row 3 lacks"),
    "letters": ("height,diameter\n0,62\n40,wide\n", "a.csv", {}, "row 3"),
    "nan": ("0,62\n40,nan\n", "a.csv", {}, "row 2"),
    "many": ("0,1\n" * 3000, "a.csv", {}, "at most 2,000"),
    "toml": ("outside = [[0, 60", "a.toml", {}, "cannot be read"),
    "toml_key": ("outside = [[0, 60]]\ncolour = 1\n", "a.toml", {}, "key “colour”"),
    "toml_unit": ('outside = []\nunit = "cubit"\n', "a.toml", {}, "is no unit"),
    "toml_lip": ('outside = []\nlip = "wavy"\n', "a.toml", {}, "lip or section"),
    "toml_row": ("outside = [[0, 60], [5]]\n", "a.toml", {}, "outside, reading 2"),
    "toml_flag": ("outside = [[0, true], [5, 6]]\n", "a.toml", {}, "outside, reading 1"),
    "toml_path": ("outside = [[0, 6]]\n[[handle]]\npath = [[1]]\nwidth = 4\n", "a.toml", {}, "path point 1"),
    "toml_bore": (
        "outside = [[0, 6]]\n[[spout]]\npath = [[1, 2], [3, 4]]\nwidth = 4\nbore = 5\n", "a.toml", {},
        "thicker than nothing",
    ),
    "exponent": ("0,62\n40,98\n", "a.csv", {"section": "superellipse", "exponent": 0.1}, "is not drawn"),
    "corner": ("0,62\n40,98\n", "a.csv", {"section": "rectangle"}, "radius of its corners"),
}  # fmt: skip


@pytest.mark.parametrize("name", WRONG)
def test_bad_readings_are_named(name: str) -> None:
    """Each ends in one sentence that names the place and says what to do."""
    text, file, asked, words = WRONG[name]
    with pytest.raises(InputError) as caught:
        form_of(text, file, **asked)
    assert words in str(caught.value)
    assert caught.value.remedy
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("data", [b"\x89PNG\r\n\x1a\n\0\0", b"\xff\xfe\x00\x01", b"0,62\n" * 300_000])
def test_what_is_no_text(data: bytes) -> None:
    """A picture, another encoding or a huge file is refused before it is taken apart."""
    with pytest.raises(InputError):
        read_form(data, "vase.csv", {})
