"""The model files are the ones that the table describes: bytes, licence, triangles, volume, genus."""

from __future__ import annotations

import hashlib
import importlib.util
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import trimesh
from numpy.typing import NDArray

from claybed.intake.reading import read_object
from claybed.records.brief import Brief

HERE = Path(__file__).parent
FILES = HERE / "files"
DEMO = HERE.parents[1] / "src" / "claybed" / "assets" / "demo"
HAS_STEP = importlib.util.find_spec("cascadio") is not None


@dataclass(frozen=True)
class Row:
    """One line of the table, as it is written there."""

    file: str
    licence: str
    text: str
    triangles: str
    genus: str
    volume: str
    sha256: str


def table() -> list[Row]:
    """Return the rows of README.md."""
    lines = re.findall(r"^\| `.*$", (HERE / "README.md").read_text("utf-8"), re.MULTILINE)
    cells = [[cell.strip(" `") for cell in line.strip("|").split("|")] for line in lines]
    return [Row(c[0], c[2], c[3], c[5], c[6], c[7], c[8]) for c in cells]


ROWS = table()
MESHES = [row for row in ROWS if not row.file.endswith(".step")]
SOLIDS = [row for row in ROWS if row.file.endswith(".step")]


def welded(path: Path) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Return points and triangles with equal points made one, and empty or doubled triangles left out."""
    loaded = trimesh.load(path, force="mesh", process=False)
    points, place = np.unique(np.round(loaded.vertices, 7), axis=0, return_inverse=True)
    faces = place.reshape(-1)[loaded.faces]
    faces = faces[(faces != np.roll(faces, 1, axis=1)).all(axis=1)]
    once = np.unique(np.sort(faces, axis=1), axis=0, return_index=True)[1]
    return points, faces[np.sort(once)]


def open_edges(faces: NDArray[np.int64]) -> int:
    """Return how many edges have one triangle only; none may have more than two."""
    edges = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    count = np.unique(edges, axis=0, return_counts=True)[1]
    assert count.max() <= 2
    return int((count == 1).sum())


def genera(points: NDArray[np.float64], faces: NDArray[np.int64]) -> list[int]:
    """Return the genus of each closed body, by Euler's formula."""
    bodies = trimesh.graph.connected_components(trimesh.Trimesh(points, faces, process=False).face_adjacency)
    parts = [faces[body] for body in bodies]
    return [(2 - (len(np.unique(part)) - len(part) * 3 // 2 + len(part))) // 2 for part in parts]


def enclosed(points: NDArray[np.float64], faces: NDArray[np.int64]) -> float:
    """Return the volume inside closed triangles, positive when they face outward."""
    a, b, c = (points[faces[:, k]] - points.mean(axis=0) for k in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6.0)


def test_table_and_folder_agree() -> None:
    """Every file is in the table, and every file of the table, with the text of its licence, is there."""
    assert {row.file for row in ROWS} == {path.name for path in FILES.iterdir() if path.is_file()}
    named = set(re.findall(r"`([^`]+)`", (HERE / "README.md").read_text("utf-8")))
    for text in (FILES / "licences").iterdir():
        assert text.name in named


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.file)
def test_file_is_the_one_described(row: Row) -> None:
    """The bytes are those of the table, under a licence that lets them be passed on, whose text says so."""
    assert hashlib.sha256((FILES / row.file).read_bytes()).hexdigest() == row.sha256
    words = {
        "CC0 1.0": r"CC0 1\.0|Creative Commons Zero",
        "CC BY 3.0": r"Creative Commons Attribution 3\.0",
        "public domain": "Public Domain",
    }
    assert re.search(words[row.licence], (FILES / "licences" / row.text).read_text("utf-8", "replace"))


@pytest.mark.parametrize("row", MESHES, ids=lambda row: row.file)
def test_mesh_has_the_volume_and_genus_stated(row: Row) -> None:
    """Triangles, open edges, genus and enclosed volume are those of the table."""
    points, faces = welded(FILES / row.file)
    assert str(len(faces)) == row.triangles
    if row.genus.startswith("open"):
        assert f"open {open_edges(faces)}" == row.genus
        return
    assert open_edges(faces) == 0
    assert " ".join(map(str, sorted(genera(points, faces)))) == row.genus
    assert enclosed(points, faces) == pytest.approx(float(row.volume), rel=1e-6)


@pytest.mark.skipif(not HAS_STEP, reason="the STEP library is not installed")
@pytest.mark.parametrize("row", SOLIDS, ids=lambda row: row.file)
def test_step_solid_has_the_volume_stated(row: Row) -> None:
    """Read in, an exact solid has the volume its drawing program states, within what flat triangles lose."""
    found = read_object(FILES / row.file, Brief(), progress=lambda phase, done: None)
    assert found.solid_ml * 1000.0 == pytest.approx(float(row.volume), rel=3e-3)


def test_demonstration_gourd_is_as_its_note_says() -> None:
    """The gourd is closed, of genus 0, outward, 180 mm tall, and has the figures of its note."""
    note = (DEMO / "NOTE.md").read_text("utf-8")
    stated = dict(re.findall(r"^- ([a-z0-9]+): `([^`]+)`", note, re.MULTILINE))
    path = DEMO / "gourd.stl"
    assert hashlib.sha256(path.read_bytes()).hexdigest() == stated["sha256"]
    points, faces = welded(path)
    assert open_edges(faces) == 0
    assert genera(points, faces) == [0]
    assert 40_000 <= len(faces) == int(stated["triangles"]) <= 60_000
    assert enclosed(points, faces) / 1000.0 == pytest.approx(float(stated["volume"].split()[0]), abs=0.05)
    assert np.ptp(points[:, 2]) == pytest.approx(180.0, abs=1e-4)
    relative_density = float(stated["mass"].split()[0]) / float(stated["volume"].split()[0])
    assert 0.2 <= relative_density <= 0.4
    assert "CC0" in note
