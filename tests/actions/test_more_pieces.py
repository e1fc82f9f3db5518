"""Molds of more than two pieces, from a file to a folder, and what they must obey."""

from __future__ import annotations

import itertools
import json
import math
import re
from pathlib import Path
from typing import Any

import jsonschema
import manifold3d
import numpy as np
import pytest
import trimesh

from claybed.actions import proving
from claybed.geometry.mesh import Mesh
from claybed.records.brief import Brief
from claybed.records.plan_schema import plan_schema
from tests.actions.planned import (
    Planned,
    checks_made,
    checks_on_page,
    make_plan,
    without_working,
    write_stl,
)
from tests.pieces import solids

PLANS = {
    "foot": Brief(unit="mm", pieces=3),
    "holes": Brief(unit="mm", pieces=4),
}
# What rounding lets two solids share that touch all over, mm³.
TOUCHING_MM3 = 30.0


def mug_with_foot() -> Mesh:
    """A solid mug on a foot ring, 4 mm hollow underneath, with a ring handle in the plane y = 0."""
    t = np.linspace(0.05, 1.0, 24)
    wall = np.stack([24.3 + 14.0 * np.sin(t * np.pi / 2.0), 3.0 + 87.0 * t], axis=1)
    foot = [[0.0, 4.0], [17.0, 4.0], [19.0, 0.0], [24.0, 0.0], [24.3, 3.0]]
    body = solids.revolved(np.vstack([foot, wall, [[0.0, 90.0]]]))
    ring = solids.to_manifold(solids.torus(20.0, 4.5)).rotate([90.0, 0.0, 0.0]).translate([40.0, 0.0, 48.0])
    return solids.from_manifold(solids.to_manifold(body) + ring)


@pytest.fixture(scope="module", params=sorted(PLANS))
def made(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Planned:
    """As asked, a mug with a foot piece, and a cube with three holes in four pieces."""
    folder = tmp_path_factory.mktemp(request.param)
    mesh = mug_with_foot() if request.param == "foot" else solids.cube_with_blind_holes(deep_mm=12.0)
    file = write_stl(mesh, folder / f"{request.param}.stl")
    return make_plan(file, folder / "out", PLANS[request.param])


def failed(document: dict[str, Any]) -> list[tuple[str, float]]:
    """Checks that do not hold."""
    return [(check["id"], check["measured"]) for check in document["checks"] if not check["ok"]]


def test_it_is_ready_and_fills_nothing(made: Planned) -> None:
    """Every check of solids and files holds, no oil clay is asked for, and each number has its working."""
    jsonschema.validate(made.document, plan_schema())
    assert without_working(made.document) == set()
    assert made.document["ready"], failed(made.document)
    assert checks_made(made.document) == checks_on_page("more", "keys", "gate", "bore", "slip")
    assert made.document["survey"]["kind"] == "several"
    assert made.document["survey"]["fill_ml"] == 0.0
    assert len(made.document["pieces"]) == len(made.document["pours"]) >= 3


def test_the_pieces_and_the_model_are_the_block(made: Planned) -> None:
    """Volumes sum to the block's within a millionth, and the model is the object and its gate."""
    document = made.document
    x, y, z = document["mold"]["outer_mm"]
    parts = sum(piece["volume_ml"] for piece in document["pieces"]) + document["model"]["volume_ml"]
    assert parts == pytest.approx(x * y * z / 1000.0, rel=1e-6)
    spare = document["mold"]["gate"]["spare_ml"]
    assert document["model"]["volume_ml"] == pytest.approx(document["object"]["volume_ml"] + spare, rel=2e-3)


def test_every_pair_that_meets_is_keyed(made: Planned) -> None:
    """Main pieces and side pieces, and two side pieces that stand against each other, lock by keys; where the
    later one's place is kept, its filler is hollowed for them.
    """
    keys = made.document["mold"]["keys"]
    pairs = {frozenset((key["bump_on"], key["socket_in"])) for key in keys}
    letters = [piece["id"] for piece in made.document["pieces"]]
    assert pairs == {frozenset(pair) for pair in itertools.combinations(letters, 2)}
    assert not [f for f in made.document["findings"] if f["id"] == "pair_without_key"]
    between = sum(key["bump_on"] == "C" and key["socket_in"] == "D" for key in keys)
    hows = [pour["form"]["how"] for pour in made.document["pours"] if pour["piece"] == "C"]
    assert (f"Hollow it at {between} places for the keys of piece C" in hows[0]) == ("D" in letters)
    told = next(pour["form"]["how"] for pour in made.document["pours"] if pour["piece"] == "A")
    carried = sum(key["bump_on"] == "C" and key["socket_in"] in ("A", "B") for key in keys)
    assert f"with {carried} keys of clay on it" in told


def test_side_pieces_open_first_and_are_poured_last(made: Planned) -> None:
    """Opening order and pouring order name every piece once, and the level pulls open first."""
    pieces = made.document["pieces"]
    order = sorted(pieces, key=lambda piece: piece["order"])
    assert [piece["order"] for piece in order] == list(range(1, len(pieces) + 1))
    level = [abs(piece["pull"][2]) < 0.5 for piece in order]
    assert level == sorted(level, reverse=True)
    assert [pour["piece"] for pour in made.document["pours"]][:2] == ["A", "B"]
    told = [f for f in made.document["findings"] if f["id"] == "side_piece_pour"]
    assert len(told) == sum(level)


def test_a_filler_takes_room_from_the_main_pours(made: Planned) -> None:
    """A millimetre of fill line takes the form's plan less the fillers, and slurry up to the line.

    What the fillers take from the plan is their thickness along the side that they stand on, so that no main
    pour is as wide as its form, and bed, plaster and object fill the first form together.
    """
    document = made.document
    x, y, _ = document["mold"]["outer_mm"]
    a, b = document["pours"][:2]
    for pour in (a, b):
        assert pour["form"]["footprint_mm2"] < 0.95 * x * y
    thing = document["object"]["volume_ml"] + document["mold"]["gate"]["spare_ml"]
    plan_mm2, line_mm = a["form"]["footprint_mm2"], a["form"]["fill_from_board_mm"]
    whole = document["bed"]["clay_ml"] + a["space_ml"] + thing
    # The side pieces' pockets are in neither, and the object's share in them is in the whole.
    assert whole == pytest.approx(plan_mm2 * line_mm / 1000.0, rel=0.06)
    # A piece poured aside has what has set beside it within its form, which stands around the whole block.
    outer = document["mold"]["outer_mm"]
    for pour in document["pours"][2:]:
        pull = next(piece["pull"] for piece in document["pieces"] if piece["id"] == pour["piece"])
        across = sorted(outer[k] for k in range(3) if k != int(np.argmax(np.abs(pull))))
        assert sorted(pour["form"]["inside_mm"]) == pytest.approx(across, abs=0.01)
        assert (pour["form"]["footprint_mm2"] < 0.95 * math.prod(across)) == (pour["piece"] == "D")
    for piece in document["pieces"][2:]:
        assert f"place of piece {piece['id']}" in a["form"]["how"]


def test_each_fillers_template_has_the_line_of_the_object(made: Planned) -> None:
    """On the foot's filler a ring about as wide as the foot, 48 mm; on both of the cube's its whole face of
    60 mm, up to the edge where the fillers meet, but for the hair that a filler stands in front of it.
    """
    letters = [piece["id"] for piece in made.document["pieces"][2:]]
    wide_mm, off_mm = (60.0, 0.75) if "D" in letters else (49.0, 2.0)
    for letter in letters:
        drawn = (made.folder / "templates" / f"filler-{letter}.svg").read_text("utf-8")
        lines = [
            np.array([pair.split(",") for pair in points.split()], float)
            for points in re.findall(r'<polyline class="mark" points="([^"]+)"', drawn)
        ]
        widest = max((np.ptp(line, axis=0) for line in lines), key=lambda size: float(size.min()))
        assert widest == pytest.approx([wide_mm, wide_mm], abs=off_mm), letter


def test_every_pair_has_keys_of_its_own(made: Planned) -> None:
    """Each further piece carries keys, each key names the piece with its socket, and closings are checked."""
    keys = made.document["mold"]["keys"]
    assert all(key["bump_on"] != key["socket_in"] for key in keys)
    further = {piece["id"] for piece in made.document["pieces"]} - {"A", "B"}
    for letter in further:
        assert sum(key["bump_on"] == letter for key in keys) >= 3
        assert any(check["id"] == f"keys_close_one_way_{letter}" for check in made.document["checks"])


def test_no_key_stands_across_another_interface(made: Planned) -> None:
    """The keys of a further piece lie within the main piece that holds their sockets, by their radius and
    more from where another further piece begins.
    """
    pieces = {piece["id"]: np.array(piece["pull"]) for piece in made.document["pieces"]}
    keys = made.document["mold"]["keys"]
    level = {
        letter: min(float(np.dot(k["at_mm"], pull)) for k in keys if k["bump_on"] == letter)
        for letter, pull in pieces.items()
        if letter not in ("A", "B")
    }
    for key in keys:
        for letter, from_mm in level.items():
            if letter not in (key["bump_on"], key["socket_in"]):
                room_mm = from_mm - float(np.dot(key["at_mm"], pieces[letter]))
                assert room_mm > key["diameter_mm"] / 2.0, (key, letter)


def test_the_folder_proves_itself(made: Planned) -> None:
    """The files alone give the same verdict."""
    proof = proving.run({"path": made.folder}, lambda step, part: None)
    assert proof["ready"], failed(proof)


def test_pulled_in_another_order_it_locks(made: Planned, tmp_path: Path) -> None:
    """With the further pieces opened last, the proof names a main piece that cannot leave."""
    folder = tmp_path / "out"
    folder.mkdir()
    (folder / "pieces").symlink_to(made.folder / "pieces")
    plan = json.loads((made.folder / "plan.json").read_text("utf-8"))
    count = len(plan["pieces"])
    for piece in plan["pieces"]:
        piece["order"] = 1 + (piece["order"] + 1) % count if count == 3 else count + 1 - piece["order"]
    (folder / "plan.json").write_text(json.dumps(plan), "utf-8")
    names = [name for name, _ in failed(proving.run({"path": folder}, lambda step, part: None))]
    assert {"release_A", "release_B"} & set(names)


def test_the_least_number_is_claimed_as_far_as_it_is_shown(made: Planned) -> None:
    """Two spots of the mug and the three holes of the cube bear witness for one piece less than was asked
    for, which is told beside it, and each spot can be lit in the view.
    """
    document = made.document
    (told,) = (f for f in document["findings"] if f["id"] == "fewest_pieces")
    page = (made.folder / "view.html").read_text("utf-8")
    asked = len(document["pieces"])
    fewest = len(document["survey"]["witness"]["spots"])
    word, more = {2: ("two", "three"), 3: ("three", "four")}[fewest]
    assert asked == fewest + 1
    assert f"{word} pieces are the fewest without fill" in told["says"]
    assert f"This mold has {more}; for the fewest, plan it with --pieces {fewest}." in told["remedy"]
    marks = ("I", "II", "III", "IV")
    assert all((f"Show {mark}<" in page) == (k < fewest) for k, mark in enumerate(marks))


def along(pull: list[float]) -> np.ndarray:
    """A rotation (3, 3) after which a pull along an axis of the block is z."""
    z = np.array(pull, float)
    x = np.roll(np.abs(np.rint(z)), 1)
    x -= (x @ z) * z
    x /= np.linalg.norm(x)
    return np.stack([x, np.cross(z, x), z])


def body_of(points: np.ndarray, faces: np.ndarray) -> manifold3d.Manifold:
    """A solid of the general library."""
    return manifold3d.Manifold(
        manifold3d.Mesh64(
            vert_properties=np.ascontiguousarray(points, np.float64),
            tri_verts=np.ascontiguousarray(faces, np.uint64),
        )
    )


def test_no_piece_fits_where_it_does_not_belong(made: Planned) -> None:
    """In its own place every piece shares nothing with the others and leaves nothing bare. Anywhere else, or
    turned in its own, outside to outside at each quarter turn, what it shares and leaves bare is at least a
    whole key: the checks that say so hold.

    Source: manifold3d's booleans, a general library.
    """
    document = made.document
    told = {row["id"]: row["ok"] for row in document["checks"]}
    closing = [ok for name, ok in told.items() if name.startswith(("keys_close_one_way", "none_goes"))]
    assert len(closing) >= len(document["pieces"]) - 1
    assert all(closing)
    names = ["model", *(row["id"] for row in document["pieces"])]
    meshes = {name: trimesh.load(made.folder / "pieces" / f"{name}.stl") for name in names}
    bodies = {name: body_of(mesh.vertices, mesh.faces) for name, mesh in meshes.items()}
    turned = {row["id"]: along(row["pull"]) for row in document["pieces"]}
    # The cap of a ball, as wide and as high as the smallest key.
    key_mm3 = min(
        math.pi * k["depth_mm"] * (0.75 * k["diameter_mm"] ** 2 + k["depth_mm"] ** 2) / 6.0
        for k in document["mold"]["keys"]
    )
    tried = 0
    for place, piece in itertools.product(turned, turned):
        own = meshes[place].vertices @ turned[place].T
        for quarter in range(4):
            a = quarter * np.pi / 2.0
            spin = np.array([[np.cos(a), -np.sin(a), 0.0], [np.sin(a), np.cos(a), 0.0], [0.0, 0.0, 1.0]])
            laid = meshes[piece].vertices @ turned[piece].T @ spin.T
            shift = (own.min(axis=0) + own.max(axis=0) - laid.min(axis=0) - laid.max(axis=0)) / 2.0
            shift[2] = own[:, 2].max() - laid[:, 2].max()
            body = body_of((laid + shift) @ turned[place], meshes[piece].faces)
            others = [bodies[name] for name in bodies if name not in (place, piece)]
            off_mm3 = (bodies[place] - body).volume() + sum((body ^ other).volume() for other in others)
            if place == piece and quarter == 0:
                assert off_mm3 <= TOUCHING_MM3, piece
                continue
            assert off_mm3 >= key_mm3, (piece, place, 90 * quarter)
            tried += 1
    assert tried == 4 * len(turned) ** 2 - len(turned)
