"""A plan folder proved from its files alone: sound ones hold, and each way of spoiling one is named."""

from __future__ import annotations

import json
import shutil
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh

from claybed.actions import plan_solids, proving
from claybed.cli.app import main
from claybed.errors import InputError
from claybed.proof.reopening import reopened
from claybed.proof.rewriting import EDITED
from claybed.proof.solidity import solidity
from claybed.records.brief import Brief
from tests.actions.planned import checks_made, checks_on_page, make_plan, write_stl
from tests.pieces import solids


@pytest.fixture(scope="module")
def plan_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a cup's plan."""
    folder = tmp_path_factory.mktemp("proved")
    file = write_stl(solids.cup_with_handle(), folder / "cup.stl")
    make_plan(file, folder / "cup.claybed", Brief())
    return folder / "cup.claybed"


@pytest.fixture
def copy(plan_folder: Path, tmp_path: Path) -> Path:
    """A copy of the folder, to spoil."""
    return Path(shutil.copytree(plan_folder, tmp_path / "cup.claybed"))


def proved(folder: Path) -> dict[str, Any]:
    """The proof of a folder."""
    return proving.run({"path": folder}, lambda step, part: None)


def failed(folder: Path) -> list[str]:
    """Ids of the checks that fail."""
    return [check["id"] for check in proved(folder)["checks"] if not check["ok"]]


def edit(folder: Path, name: str, change: Callable[[np.ndarray], np.ndarray]) -> None:
    """Rewrite one file's corners as another program would."""
    path = folder / "pieces" / f"{name}.stl"
    mesh = trimesh.load(path, process=False)
    mesh.vertices = change(np.array(mesh.vertices, dtype=np.float64))
    path.write_bytes(trimesh.exchange.stl.export_stl(mesh))


def test_a_fresh_plan_holds_and_repeats_what_was_proved(plan_folder: Path) -> None:
    """Every check that both make gives the same verdict and measure from the files as from the solids."""
    again = {check["id"]: check for check in proved(plan_folder)["checks"]}
    first = {c["id"]: c for c in json.loads((plan_folder / "plan.json").read_text("utf-8"))["checks"]}
    document = json.loads((plan_folder / "plan.json").read_text("utf-8"))
    assert checks_made(document) == checks_on_page("two pieces", "keys", "gate", "bore", "slip")
    both = set(again) & set(first)
    assert {"release_A", "release_B", "model_leaves_last", "wall", "keys_close_one_way", "tongue"} <= both
    for name in both:
        assert again[name]["ok"] == first[name]["ok"], name
        assert again[name]["measured"] == pytest.approx(first[name]["measured"], abs=0.05), name
    found = proved(plan_folder)
    assert found["ready"] and found["edited"] == [] and found["not_repeated"] == []


def test_text_stl_of_another_program_is_held_to_a_hundredth(copy: Path) -> None:
    """Coordinates rounded by 0.002 mm are named as edited, and still leave within 0.01 mm."""

    def rounded(v: np.ndarray) -> np.ndarray:
        return np.round(v / 0.002) * 0.002

    edit(copy, "A", rounded)
    found = proved(copy)
    assert found["edited"] == ["A"]
    by_id = {check["id"]: check for check in found["checks"]}
    assert by_id["release_A"]["limit"] == 0.01
    assert found["ready"], [c for c in found["checks"] if not c["ok"]]


@pytest.mark.parametrize(
    ("name", "change", "expected"),
    [
        ("A", lambda v: v + np.array([0.5, 0.0, 0.0]), "block_as_planned"),
        ("A", lambda v: v / 25.4, "pour_fits_A"),
        ("model", lambda v: v + np.array([0.0, 0.3, 0.0]), "release_A"),
        ("B", lambda v: v * np.array([1.0, 1.0, 0.9]), "volumes_fill_block"),
    ],
    ids=["moved", "inches", "model moved", "squeezed"],
)
def test_what_was_done_to_a_file_is_named(
    copy: Path, name: str, change: Callable[[np.ndarray], np.ndarray], expected: str
) -> None:
    """A solid that was moved or scaled fails the check that says so."""
    edit(copy, name, change)
    assert expected in failed(copy)


def stands(folder: Path, name: str) -> str:
    """What is told of a solid's file; empty when it holds what the plan wrote."""
    document = json.loads((folder / "plan.json").read_text("utf-8"))
    found = plan_solids.opened(document, folder, lambda part: None)
    (check,) = (c for c in found.checks if c.id == f"file_stands_{name}")
    says = check.where.partition(": ")[2]
    assert check.ok == (says in ("", EDITED))
    return says


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda v: v + np.array([0.5, 0.0, 0.0]), "was moved by 0.50 mm (+0.50, +0.00, +0.00 mm)"),
        (lambda v: v * np.array([1.0, -1.0, 1.0]), "was mirrored"),
        (lambda v: v @ np.array([[0, -1, 0], [1, 0, 0], [0, 0, 1]]), "was turned by 90.0 degrees"),
        (
            lambda v: v / 25.4,
            "was scaled to 0.03937 times its size (inches taken for millimetres, or the reverse)",
        ),
        (lambda v: v * np.array([1.0, 1.0, 0.9]), "was stretched to 1, 1 and 0.9 times along x, y and z"),
        (lambda v: v + (np.abs(v[:, [2]] - v[0, 2]) < 1e-9) * 0.3, EDITED),
        (lambda v: v, ""),
    ],
    ids=["moved", "mirrored", "turned", "inches", "squeezed", "bent", "only saved"],
)
def test_the_kind_of_change_is_told(
    copy: Path, change: Callable[[np.ndarray], np.ndarray], says: str
) -> None:
    """What was done to a file is told in words; saving it again is no change, and whatever has no name is
    edited. The other files stand.
    """
    edit(copy, "A", change)
    assert stands(copy, "A") == says
    assert stands(copy, "B") == stands(copy, "model") == ""


def test_faces_that_look_inwards_are_told(copy: Path) -> None:
    """A solid that was turned inside out has the same surface; it is named all the same, and is no solid."""
    path = copy / "pieces" / "A.stl"
    mesh = trimesh.load(path, process=False)
    mesh.invert()
    path.write_bytes(trimesh.exchange.stl.export_stl(mesh))
    assert stands(copy, "A") == "was turned inside out"
    found = plan_solids.opened(json.loads((copy / "plan.json").read_text("utf-8")), copy, print)
    mold = reopened(json.loads((copy / "plan.json").read_text("utf-8")), found.solids)
    told = {check.id: check for check in solidity(found.solids, mold)}
    assert "inside out" in told["solid_closed_A"].where
    assert not told["solid_closed_A"].ok
    assert told["solid_closed_B"].ok


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "is empty"),
        (b"no mesh at all, but a few words in a file\n" * 3, "is not an STL file"),
        (b"\0" * 84, "it holds no triangles"),
        (b" " * 80 + b"\1\0\0\0" + b"\0" * 20, "ends after"),
        (b" " * 80 + b"\1\0\0\0" + np.full(12, 1e30, "<f4").tobytes() + b"\0\0", "beyond two metres"),
        (b" " * 80 + b"\1\0\0\0" + np.full(12, np.nan, "<f4").tobytes() + b"\0\0", "no numbers"),
    ],
    ids=["empty", "text", "head alone", "broken off", "huge", "nan"],
)
def test_a_file_that_holds_no_solid_is_named(copy: Path, data: bytes, says: str) -> None:
    """Whatever stands in a piece's file, the folder is judged: that file fails, with what is wrong in it."""
    (copy / "pieces" / "A.stl").write_bytes(data)
    found = proved(copy)
    wrong = {check["id"]: check["where"] for check in found["checks"] if not check["ok"]}
    assert list(wrong) == ["file_whole_A"]
    assert says in wrong["file_whole_A"]


@pytest.mark.parametrize("ending", ["obj", "ply", "3mf"])
def test_another_format_is_read_by_what_it_holds(copy: Path, ending: str) -> None:
    """A piece that was exported as something else stands as it was once it bears its own file's name; beside
    a missing one it is named.
    """
    path = copy / "pieces" / "A.stl"
    other = copy / "pieces" / f"A.{ending}"
    trimesh.load(path).export(other)
    path.unlink()
    if ending != "3mf":
        (missing,) = (check["where"] for check in proved(copy)["checks"] if not check["ok"])
        assert missing == f"A.stl: it is missing; A.{ending} beside it is not read"
    path.write_bytes(other.read_bytes())
    assert stands(copy, "A") in ("", EDITED)


def test_swapped_files_are_told_as_swapped(copy: Path) -> None:
    """Each of two files that changed places is said to hold the other's solid, and the remedies are no longer
    about the object.
    """
    a, b = (copy / "pieces" / f"{name}.stl" for name in "AB")
    first, second = a.read_bytes(), b.read_bytes()
    a.write_bytes(second)
    b.write_bytes(first)
    assert (stands(copy, "A"), stands(copy, "B")) == ("holds piece B", "holds piece A")
    wrong = [check for check in proved(copy)["checks"] if not check["ok"]]
    assert "release_A" in [check["id"] for check in wrong]
    for check in wrong:
        if not check["id"].startswith("file_"):
            assert check["remedy"] == "Put A.stl and B.stl back as the plan wrote them, or plan again."


def test_each_3mf_file_is_the_solid_of_its_stl(copy: Path) -> None:
    """Missing, damaged, another's, or left behind when the STL was edited: the file is named and fails; one
    that was only packed anew is read, and holds.
    """
    document = json.loads((copy / "plan.json").read_text("utf-8"))
    pieces = copy / "pieces"

    def twins() -> dict[str, str]:
        found = plan_solids.opened(document, copy, lambda part: None)
        return {
            c.where.partition(": ")[0]: c.where
            for c in found.checks
            if c.id.startswith("file_twin") and not c.ok
        }

    assert twins() == {}
    kept = (pieces / "A.3mf").read_bytes()
    with zipfile.ZipFile(pieces / "A.3mf") as packed, zipfile.ZipFile(copy / "again.3mf", "w") as anew:
        for name in packed.namelist():
            anew.writestr(name, packed.read(name))
    (copy / "again.3mf").replace(pieces / "A.3mf")
    assert (pieces / "A.3mf").read_bytes() != kept
    assert twins() == {}
    (pieces / "A.3mf").write_bytes((pieces / "B.3mf").read_bytes())
    assert twins() == {"A.3mf": "A.3mf: holds piece B"}
    (pieces / "A.3mf").write_bytes(kept[: len(kept) // 2])
    assert list(twins()) == ["A.3mf"]
    (pieces / "A.3mf").unlink()
    assert twins() == {"A.3mf": "A.3mf: it is missing"}
    (pieces / "A.3mf").write_bytes(kept)
    edit(copy, "B", lambda v: v + np.array([0.0, 0.0, 0.5]))
    assert twins() == {"B.3mf": "B.3mf: is not the solid of B.stl"}
    (told,) = (c for c in plan_solids.opened(document, copy, print).checks if c.id == "file_twin_B")
    assert told.remedy == "Put B.stl back; or, where its edit is meant, export B.3mf from it anew."


def test_a_hook_is_found_where_it_is(copy: Path) -> None:
    """Plaster that was made to reach under the model locks, and the place is told."""
    path = copy / "pieces" / "A.stl"
    mesh = trimesh.load(path, process=True)
    model = trimesh.load(copy / "pieces" / "model.stl")
    # A rod across the piece and the model below the model's lowest surface over it.
    low, high = model.bounds
    rod = trimesh.creation.box((6.0, 6.0, 6.0))
    pull = np.array(json.loads((copy / "plan.json").read_text("utf-8"))["pieces"][0]["pull"])
    far = low if pull[2] > 0 else high
    rod.apply_translation([*(model.centroid[:2]), far[2] - 4.0 * pull[2]])
    path.write_bytes(trimesh.exchange.stl.export_stl(trimesh.util.concatenate([mesh, rod])))
    found = {check["id"]: check for check in proved(copy)["checks"]}
    assert not found["one_body_A"]["ok"]
    assert not found["release_A"]["ok"]
    assert found["release_A"]["measured"] == pytest.approx(6.0, abs=0.1)
    assert found["release_A"]["at_mm"] is not None


def cavity_spot(folder: Path, name: str) -> np.ndarray:
    """A place on the model's surface, well inside piece `name`: the end of the model along its pull."""
    pull = next(
        p["pull"] for p in json.loads((folder / "plan.json").read_text("utf-8"))["pieces"] if p["id"] == name
    )
    model = trimesh.load(folder / "pieces" / "model.stl")
    middle = model.triangles_center
    flat = np.flatnonzero(model.face_normals @ np.array(pull) > 0.5)
    near = np.linalg.norm((middle[flat] - model.bounds.mean(axis=0))[:, :2], axis=1)
    return np.array(middle[flat[np.argmin(near)]])


@pytest.mark.parametrize("kind", ["pit", "wart"])
def test_a_pit_or_a_wart_in_the_cavity_is_told_with_its_depth(copy: Path, kind: str) -> None:
    """A cube of 6 mm about a place of the cavity, taken out of the piece or put onto it, is 3 mm deep there;
    closed, single, releasing and well within what volumes may be off by, it is named with piece and place.
    """
    at = cavity_spot(copy, "A")
    path = copy / "pieces" / "A.stl"
    cube = trimesh.creation.box((6.0, 6.0, 6.0), transform=trimesh.transformations.translation_matrix(at))
    join = trimesh.boolean.difference if kind == "pit" else trimesh.boolean.union
    changed = join([trimesh.load(path), cube], engine="manifold")
    path.write_bytes(trimesh.exchange.stl.export_stl(changed))
    by_id = {check["id"]: check for check in proved(copy)["checks"]}
    assert by_id["volumes_fill_block"]["ok"]
    assert by_id["solid_closed_A"]["ok"]
    told = by_id["adjoins_A"]
    assert not told["ok"]
    # From the place out to the middle of a side, and to a corner of the cube.
    assert 2.5 <= told["measured"] <= 3.0 * np.sqrt(3.0)
    assert np.abs(np.array(told["at_mm"]) - at).max() <= 3.01
    assert ("leaves a hollow" if kind == "pit" else "into the model") in told["where"]
    assert by_id["adjoins_B"]["ok"]


def test_a_planed_key_is_missed(copy: Path) -> None:
    """A piece whose keys were sanded flat no longer registers."""
    plan = json.loads((copy / "plan.json").read_text("utf-8"))
    key = plan["mold"]["keys"][0]
    at, radius = np.array(key["at_mm"]), key["diameter_mm"] / 2.0

    def planed(v: np.ndarray) -> np.ndarray:
        near = np.linalg.norm(v[:, :2] - at[:2], axis=1) < 1.05 * radius
        on_joint = near & (np.abs(v[:, 2] - at[2]) < key["depth_mm"] + 1.0)
        v[on_joint, 2] = at[2]
        return v

    edit(copy, key["bump_on"], planed)
    assert "keys_stand" in failed(copy)


def test_a_missing_file_is_named_and_the_folder_stays_as_it_was(copy: Path) -> None:
    """Without piece B nothing else is judged, how much is not is told, and nothing is written."""
    (copy / "pieces" / "B.stl").unlink()
    before = sorted(p.name for p in copy.rglob("*"))
    assert failed(copy) == ["file_whole_B"] and proved(copy)["not_made_count"] > 4
    assert sorted(p.name for p in copy.rglob("*")) == before


def test_seams_in_files_keep_out_of_what_was_forbidden(plan_folder: Path) -> None:
    """Where a plan asked for no seam is asked of its files again: a spot off the object holds none, a layer
    without ends nearly all of the seam, that along the gate left out, and its two halves as much together.
    """
    document = json.loads((plan_folder / "plan.json").read_text("utf-8"))
    files = plan_solids.named_files(document, plan_folder)
    on_disk = {name: plan_solids.solid_of(path)[0] for name, path in files.items()}

    def inside_mm(*rows: dict[str, Any]) -> float:
        document["made"]["brief"]["keep_out"] = list(rows)
        (check,) = proving.kept_out(document, on_disk)
        assert check.ok == (check.measured <= check.limit)
        return check.measured

    assert proving.kept_out(document, on_disk) == ()
    assert inside_mm({"centre_mm": [500.0, 0.0, 0.0], "radius_mm": 20.0}) == 0.0
    layer = {"direction": [0.0, 0.0, 1.0]}
    whole_mm = inside_mm({**layer, "lo_mm": None, "hi_mm": None})
    seam_mm = document["mold"]["seam_length_mm"]
    assert 0.7 * seam_mm < whole_mm <= 1.001 * seam_mm
    halves = [inside_mm({**layer, "lo_mm": lo, "hi_mm": hi}) for lo, hi in ((None, 20.0), (20.0, None))]
    assert min(halves) > 1.0
    assert sum(halves) == pytest.approx(whole_mm, abs=0.1)


def test_a_file_outside_the_folder_is_refused(copy: Path) -> None:
    """A plan that points elsewhere is not followed."""
    plan = json.loads((copy / "plan.json").read_text("utf-8"))
    plan["pieces"][0]["file"] = "../A.stl"
    (copy / "plan.json").write_text(json.dumps(plan), "utf-8")
    with pytest.raises(InputError, match="outside its folder"):
        proved(copy)


def test_the_command_says_which_check_fails_and_ends_with_4(
    copy: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit 0 for a sound folder, 4 with the check's name for a spoiled one, 2 for what is no plan."""
    assert main(["prove", str(copy)]) == 0
    assert "checks hold" in capsys.readouterr().out
    edit(copy, "A", lambda v: v + np.array([0.5, 0.0, 0.0]))
    assert main(["prove", str(copy)]) == 4
    out = capsys.readouterr().out
    assert "Block as planned" in out
    assert "piece A" in out
    assert main(["prove", str(copy.parent)]) == 2
    assert "cannot be read as a plan" in capsys.readouterr().err


def test_what_only_the_plan_could_judge_is_kept(copy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A check that failed on the object, and a stop, count though the files of the folder are sound."""
    path = copy / "plan.json"
    document = json.loads(path.read_text())
    likeness = next(row for row in document["checks"] if row["id"] == "model_true")
    likeness.update(ok=False, remedy="Simplify the file.")
    document["findings"].append(
        {
            "id": "too_hot",
            "severity": "stop",
            "where": "",
            "says": "It gets too hot.",
            "remedy": "Pour thinner.",
        }
    )
    path.write_text(json.dumps(document))
    again = proved(copy)
    assert [row["id"] for row in again["unrepeated"]] == ["model_true"]
    assert all(check["ok"] for check in again["checks"]) and not again["ready"]
    assert main(["prove", str(copy)]) == 4
    said = " ".join(capsys.readouterr().out.split())
    assert (
        "as it was planned" in said
        and "Simplify the file." in said
        and "It gets too hot. Pour thinner." in said
    )
