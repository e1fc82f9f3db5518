"""`claybed object` and what other commands make of an object file."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from claybed.actions.object_files import write_object
from claybed.cli.planning import plan_folder
from claybed.geometry.mesh import Mesh
from claybed.records.measuring import Measuring, VolumeBand
from claybed.records.object_file import ObjectFile
from tests.pieces import solids

Run = Callable[..., Any]
CONE: Mesh = solids.frustum(30.0, 25.0, 50.0)


def an_object(folder: Path, *, shape: bool = True) -> Path:
    """Write an object file, with a shape or without, and return where."""
    how = Measuring("calipers", "Turned from two readings.", VolumeBand(0.04, 0.04), cannot_tell=("Inside.",))
    obj = ObjectFile("cone", how, CONE.volume_mm3 / 1000.0, CONE if shape else None, mass_g=88.0)
    write_object(obj, folder / "cone.claybed")
    return folder / "cone.claybed"


def test_show_tells_all_of_it(run: Run, tmp_path: Path) -> None:
    """Size, volume with how far it may be off, manner of measuring and what is left open are told."""
    outcome = run("object", "show", str(an_object(tmp_path)), "--why")
    assert outcome.code == 0
    ml = CONE.volume_mm3 / 1000.0
    assert f"{ml:.0f} ml ± {0.04 * ml:.1f} ml, 88 g." in outcome.out
    assert "Turned from two readings." in outcome.out
    assert "Inside." in outcome.out
    assert "Source: geometry." in outcome.out
    assert outcome.out.strip().endswith(f"Next: claybed plan {tmp_path / 'cone.claybed'}")


def test_show_as_json_is_the_description(run: Run, tmp_path: Path) -> None:
    """--json prints the description of the file, unrounded."""
    outcome = run("object", "show", str(an_object(tmp_path)), "--json")
    told = json.loads(outcome.out)
    assert told["volume_ml"] == CONE.volume_mm3 / 1000.0
    assert told["measured"]["band"] == {"smaller_share": 0.04, "larger_share": 0.04}


def test_show_refuses_other_files(run: Run, tmp_path: Path) -> None:
    """A mesh is no object file, and the message says so."""
    outcome = run("object", "show", str(tmp_path / "jug.stl"))
    assert outcome.code == 2
    assert "is not an object file" in outcome.err


@pytest.mark.parametrize("shape", [True, False])
def test_mix_takes_the_object_with_its_doubt(run: Run, tmp_path: Path, shape: bool) -> None:
    """The space less an object file is uncertain by just what the object is, with or without a shape."""
    path = an_object(tmp_path, shape=shape)
    outcome = run("mix", "--space", "1L", "--object", str(path), "--json")
    document = json.loads(outcome.out)
    ml = CONE.volume_mm3 / 1000.0
    space = document["figures"]["/space_ml"]
    assert document["space_ml"] == pytest.approx(1000.0 - ml, rel=1e-9)
    assert (space["low"], space["high"]) == pytest.approx((1000.0 - 1.04 * ml, 1000.0 - 0.96 * ml), rel=1e-9)
    known = run("mix", "--space", f"{1000.0 - ml}ml", "--json")
    more = document["slurry_ml"] / json.loads(known.out)["slurry_ml"]
    assert more == pytest.approx((1.1 + 0.04 * ml / (1000.0 - ml)) / 1.1, rel=1e-9)
    said = run("mix", "--space", "1L", "--object", str(path))
    assert "as well as object and plaster are known" in said.out
    assert f"--object {path}" in said.out


def test_mix_takes_a_mesh_at_its_word(run: Run, tmp_path: Path) -> None:
    """The volume of a mesh file is taken off as it is."""
    from tests.actions.planned import write_stl

    path = write_stl(CONE, tmp_path / "cone.stl")
    document = json.loads(run("mix", "--space", "1L", "--object", str(path), "--json").out)
    assert document["space_ml"] == pytest.approx(1000.0 - CONE.volume_mm3 / 1000.0, rel=1e-6)
    assert document["figures"]["/space_ml"]["low"] is None


def test_the_object_is_given_once(run: Run, tmp_path: Path) -> None:
    """An object file beside another account of the object is refused."""
    words = ("mix", "--space", "1L", "--object", str(an_object(tmp_path)), "--object-volume", "50ml")
    outcome = run(*words)
    assert outcome.code == 2
    assert "given twice" in outcome.err


def test_without_a_shape_there_is_no_plan(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Planning an object of which only volume and weight are known ends with 3, says why, writes nothing."""
    from claybed.cli.app import main

    monkeypatch.chdir(tmp_path)
    assert main(["survey", str(an_object(tmp_path, shape=False))]) == 3
    assert main(["plan", str(an_object(tmp_path, shape=False))]) == 3
    assert [path.name for path in tmp_path.iterdir()] == ["cone.claybed"]


def test_a_plan_does_not_take_the_objects_name() -> None:
    """The plan of an object file goes to a folder of another name; that of a mesh keeps its own."""
    assert plan_folder(Path("jug.claybed")) == Path("jug-plan.claybed")
    assert plan_folder(Path("some/jug.stl")) == Path("jug.claybed")


def test_points_are_kept_in_double_precision(tmp_path: Path) -> None:
    """The mesh in the file is the mesh that was handed in."""
    from claybed.intake.reading import read_object
    from claybed.records.brief import Brief

    found = read_object(an_object(tmp_path), Brief(), progress=lambda step, part: None)
    assert np.array_equal(found.mesh.vertices_mm, CONE.vertices_mm)


VASE = "height,diameter\n0,62\n12,70\n40,98\n70,112\n100,104\n130,72\n165,66\n"


def test_turn_writes_an_object_that_is_read_back(run: Run, tmp_path: Path) -> None:
    """Readings become an object file with volume, interval and steps, and the command to try next."""
    (tmp_path / "vase.csv").write_text(VASE)
    outcome = run("object", "turn", "vase.csv", "--mass", "1.9kg")
    assert outcome.code == 0, outcome.err
    assert "leave" in outcome.out
    assert outcome.out.strip().endswith("Next: claybed plan vase.claybed")
    told = json.loads(run("object", "show", "vase.claybed", "--json").out)
    assert told["measured"]["kind"] == "calipers"
    assert told["mass_g"] == 1900.0
    volume = told["figures"]["/volume_ml"]
    assert volume["low"] < told["volume_ml"] < volume["high"]
    assert volume["inputs"]["readings"] == 7.0


def test_an_object_is_not_written_over(run: Run, tmp_path: Path) -> None:
    """A second object of that name needs --replace, and a failed one leaves the first as it was."""
    (tmp_path / "vase.csv").write_text(VASE)
    assert run("object", "turn", "vase.csv").code == 0
    before = (tmp_path / "vase.claybed").read_bytes()
    again = run("object", "turn", "vase.csv")
    assert again.code == 2
    assert "--replace" in again.err
    (tmp_path / "vase.csv").write_text("0,62\n-4,70\n")
    assert run("object", "turn", "vase.csv", "--replace").code == 2
    assert (tmp_path / "vase.claybed").read_bytes() == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["jug.stl", "vase.claybed", "vase.csv"]


def test_every_way_of_measuring_shows_an_example(run: Run) -> None:
    """--help of each command below claybed object ends with an example of it."""
    import typer

    from claybed.cli.object.app import app

    for name in typer.main.get_command(app).commands:
        outcome = run("object", name, "--help")
        assert outcome.code == 0
        assert f"Example: claybed object {name}" in outcome.out


SQUARE = """<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="60mm" viewBox="0 0 60 60">
<path d="M10 10 H50 V50 H10 Z"/></svg>"""
# What is typed, and the volume that must come of it, ml.
WAYS = {
    "box": (("shape", "box", "100x80x60mm"), 480.0),
    "egg": (("shape", "egg", "60x44mm", "--reading", "0.5mm"), 60.8),
    "extrude": (("extrude", "square.svg", "--thick", "20mm", "--draft", "0"), 32.0),
    "revolve": (("revolve", "square.svg", "--axis", "middle", "--line", "0.3mm"), 50.27),
    "sized": (("extrude", "square.svg", "--thick", "20mm", "--draft", "0", "--size", "80mm"), 128.0),
    "relief": (
        ("relief", "grey.png", "--width", "50mm", "--raised", "4mm", "--base", "6mm", "--draft", "0"), 20.0,
    ),
    "weighed": (("displaced", "--water", "998g", "--mass", "400g", "--name", "gourd"), 1000.0),
    "measured": (("displaced", "--water", "1 qt"), 946.4),
}  # fmt: skip


@pytest.mark.parametrize("way", WAYS)
def test_each_way_writes_an_object(run: Run, tmp_path: Path, way: str) -> None:
    """Each way of measuring writes a file that says its volume, and tells the next command."""
    from PIL import Image

    (tmp_path / "square.svg").write_text(SQUARE)
    Image.new("L", (51, 51), 128).save(tmp_path / "grey.png")
    words, ml = WAYS[way]
    outcome = run("object", *words, "--out", "made.claybed")
    assert outcome.code == 0, outcome.err
    assert outcome.out.strip().splitlines()[-1].startswith("Next: claybed ")
    told = json.loads(run("object", "show", "made.claybed", "--json").out)
    assert told["volume_ml"] == pytest.approx(ml, rel=2e-3)
    band = told["measured"]["band"]
    assert (band["smaller_share"] > 0.0) == (way in ("egg", "revolve", "weighed", "measured"))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("shape", "pyramid", "50x50mm"), "not one of box"),
        (("shape", "box", "50x50mm"), "3 lengths"),
        (("revolve", "none.svg"), "no such file"),
        (("extrude", "jug.stl", "--thick", "5mm"), "neither SVG nor DXF"),
        (("relief", "jug.stl", "--width", "50mm"), "no picture"),
        (("displaced", "--water", "640"), "no unit"),
        (("displaced", "--water", "640g", "--box", "50x50x50mm"), "does not fit"),
    ],
)
def test_what_cannot_be_used(run: Run, tmp_path: Path, words: tuple[str, ...], said: str) -> None:
    """Bad input ends with 2, one line, and no file."""
    outcome = run("object", *words)
    assert outcome.code == 2
    assert said in outcome.err
    lines = outcome.err.strip().splitlines()
    assert [said in line for line in lines if not line.endswith("…")] == [True]
    assert not list(tmp_path.glob("*.claybed"))


def test_a_rough_scan_becomes_an_object(run: Run, tmp_path: Path) -> None:
    """A body on a table comes in without the table, its steps told, at the height that was measured."""
    import trimesh

    body = trimesh.creation.cylinder(30.0, 60.0, sections=64)
    body.apply_translation([0.0, 0.0, 30.0])
    body.update_faces(body.face_normals[:, 2] > -0.5)
    table = trimesh.creation.box((300.0, 300.0, 1.0)).subdivide().subdivide()
    table.apply_translation([0.0, 0.0, -0.5])
    table.update_faces(table.face_normals[:, 2] > 0.5)
    trimesh.util.concatenate([body.subdivide_to_size(6.0), table]).export(tmp_path / "rough.ply")
    words = ("object", "scan", "rough.ply", "--unit", "mm", "--height", "90mm", "--smooth", "0")
    outcome = run(*words)
    assert outcome.code == 0, outcome.err
    assert "Cut away the table" in outcome.out
    told = json.loads(run("object", "show", "rough.claybed", "--json").out)
    assert told["extent_mm"][2] == pytest.approx(90.0, rel=1e-9)
    exact_ml = 64 / 2 * 30.0**2 * np.sin(2 * np.pi / 64) * 60.0 * 1.5**3 / 1000.0
    assert told["volume_ml"] == pytest.approx(exact_ml, rel=5e-3)
    assert {"cut_table", "fill_hole", "stand"} <= {step["step"] for step in told["steps"]}
    assert told["measured"]["band"]["larger_share"] >= 3.0 * 0.5 / 90.0 * 0.999
