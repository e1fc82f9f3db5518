"""`claybed mat`, `claybed object photo` and `claybed object photos`, as they are typed."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.photos.rings import before_picture, bottle_picture

Run = Callable[..., Any]


def test_mat_writes_a_pdf_and_says_what_to_do(run: Run, tmp_path: Path) -> None:
    """The PDF is there, and the words ask to measure the bar."""
    outcome = run("mat", "--paper", "letter", "--out", "mat.pdf")
    assert outcome.code == 0
    assert (tmp_path / "mat.pdf").read_bytes().startswith(b"%PDF")
    assert "measure the bar" in outcome.out
    assert run("mat", "--paper", "letter", "--out", "mat.pdf").code == 2  # never over an earlier one unasked
    assert run("mat", "--paper", "letter", "--out", "mat.pdf", "--replace").code == 0


def test_mat_as_json_tells_its_measures(run: Run) -> None:
    """--json has the measures, unrounded."""
    told = json.loads(run("mat", "--json").out)
    assert told["bar_mm"] == 150.0
    assert told["size_mm"] == [210.0, 297.0]


def test_mat_refuses_other_paper(run: Run, tmp_path: Path) -> None:
    """A paper without a mat is refused, and nothing is written."""
    assert run("mat", "--paper", "a5", "--out", "mat.pdf").code == 2
    assert not (tmp_path / "mat.pdf").exists()


def test_one_photo_becomes_an_object_file(run: Run, tmp_path: Path) -> None:
    """A photo gives an object that survey takes; outline and check picture are written beside it."""
    photo = tmp_path / "bottle.jpg"
    photo.write_bytes(bottle_picture())
    before = photo.read_bytes()
    outcome = run(
        "object", "photo", "bottle.jpg", "--bar", "150mm", "--mass", "900g",
        "--check", "seen.jpg", "--save-outline", "outline.csv", "--why",
    )  # fmt: skip
    assert outcome.code == 0, outcome.err
    assert "taken as turned" in outcome.out
    assert "cannot tell whether the object is round" in outcome.out
    assert "scale_share" in outcome.out
    assert photo.read_bytes() == before
    assert (tmp_path / "seen.jpg").read_bytes().startswith(b"\xff\xd8")
    assert (tmp_path / "outline.csv").read_text().startswith("x_px,y_px\n")
    told = json.loads(run("object", "show", "bottle.claybed", "--json").out)
    assert told["measured"]["kind"] == "photo"
    assert told["volume_ml"] == pytest.approx(576.3, rel=0.03)
    assert told["mass_g"] == 900.0
    given = run(
        "object", "photo", "bottle.jpg", "--outline", "outline.csv", "--out", "again.claybed", "--json"
    )
    assert given.code == 0, given.err
    assert json.loads(given.out)["volume_ml"] == pytest.approx(told["volume_ml"], rel=0.01)


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("object", "photo", "gone.jpg"), 2, "is not there"),
        (("object", "photo", "text.jpg"), 2, "not a picture"),
        (("object", "photo", "text.jpg", "--bar", "15mm"), 2, "cannot be what is drawn"),
        (("object", "photo", "text.jpg", "--exponent", "0.2"), 2, "no exponent"),
        (("object", "photo", "text.jpg", "--side-outline", "o.csv"), 2, "Add --side"),
        (("object", "photo", "text.jpg", "--gap", "12mm"), 2, "--mat behind"),
        (("object", "photo", "text.jpg", "--mat", "behind", "--gap", "-3mm"), 2, "--gap"),
        (("object", "photo", "text.jpg", "--mat", "behind", "--side", "b.jpg"), 2, "lying mat"),
        (("object", "photo", "text.jpg", "--mat", "beside"), 2, "--mat"),
        (("object", "photos", "a.jpg", "b.jpg"), 2, "8 to 36"),
        (("object", "photos", *[f"{k}.jpg" for k in range(9)]), 3, "hull needs 6"),
    ],
)
def test_bad_input_is_one_line_and_leaves_nothing(
    run: Run, tmp_path: Path, words: tuple[str, ...], code: int, says: str
) -> None:
    """Each refusal says what and where in one line, and no file is left."""
    (tmp_path / "text.jpg").write_text("no picture")
    there = set(tmp_path.iterdir())
    outcome = run(*words)
    assert outcome.code == code
    assert says in outcome.err
    lines = [line for line in outcome.err.splitlines() if not line.endswith("…")]
    assert len(lines) == 1
    assert set(tmp_path.iterdir()) == there


def test_a_photo_before_an_upright_mat_becomes_an_object(run: Run, tmp_path: Path) -> None:
    """With --mat behind and --gap the bottle has its volume within 3 %; without, the photo is refused."""
    (tmp_path / "before.jpg").write_bytes(before_picture(12.0, 8.0))
    words = ("object", "photo", "before.jpg", "--bar", "150mm", "--out", "before.claybed")
    made = run(*words, "--mat", "behind", "--gap", "12mm", "--json")
    assert made.code == 0
    assert json.loads(made.out)["volume_ml"] == pytest.approx(576.319, rel=0.03)
    other = run(*words, "--replace")
    assert other.code == 2
    assert "add --mat behind" in other.err
