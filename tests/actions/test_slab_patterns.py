"""Slab patterns of real plan folders: templates at true scale, figures with their working, refusals."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from claybed.actions import slab_patterns
from claybed.errors import CannotError, InputError
from claybed.flow.ledger import numbers_at
from claybed.records.patterns import PatternAsk
from tests.actions.planned import Planned


@pytest.fixture(scope="module")
def made(planned: Planned, tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], Path]:
    """Patterns of a plan for a slab of 5 mm."""
    out = tmp_path_factory.mktemp("slabs")
    payload = {"plan": planned.folder, "out": out, "ask": PatternAsk(slab_mm=5.0, allowance_mm=8.0)}
    return slab_patterns.run(payload, lambda step, part: None), out


def test_patterns_cover_the_lining(made: tuple[dict[str, Any], Path], planned: Planned) -> None:
    """Every mold piece has patterns, named after it, no fewer than one and told how often to cut."""
    document, _ = made
    letters = {row["piece"] for row in document["linings"]}
    assert letters == {piece["id"] for piece in planned.document["pieces"]}
    assert {re.match("[A-Z]+", row["id"])[0] for row in document["patterns"]} == letters  # type: ignore[index]
    assert all(row["copies"] >= 1 and row["spread_ratio"] >= 0.0 for row in document["patterns"])


def test_templates_are_at_true_scale(made: tuple[dict[str, Any], Path]) -> None:
    """Each pattern is an SVG and a DXF, an SVG unit a millimetre; the PDF is there."""
    document, out = made
    for row in document["patterns"]:
        svg = (out / "templates" / f"slab-{row['id']}.svg").read_text("utf-8")
        wide, tall = (float(x) for x in re.search(r'width="([\d.]+)mm" height="([\d.]+)mm"', svg).groups())  # type: ignore[union-attr]
        box = [float(x) for x in re.search(r'viewBox="([^"]+)"', svg)[1].split()]  # type: ignore[index]
        assert box[2] == pytest.approx(wide, abs=0.01) and box[3] == pytest.approx(tall, abs=0.01)
        assert (out / "templates" / f"slab-{row['id']}.dxf").exists()
    assert (out / "slabs.pdf").read_bytes().startswith(b"%PDF")
    assert (out / "stretch.png").stat().st_size > 10_000


def test_every_number_has_its_working(made: tuple[dict[str, Any], Path]) -> None:
    """Each number has formula and source, and the file holds what was returned."""
    document, out = made
    assert json.loads((out / "patterns.json").read_text("utf-8")) == document
    bare = dict(document)
    figures = bare.pop("figures")
    assert set(numbers_at(bare)) == set(figures)


def test_cautions_belong_to_the_step(made: tuple[dict[str, Any], Path]) -> None:
    """Wooden tools, joints and a try with paper are named."""
    text = " ".join(made[0]["cautions"])
    assert "wooden" in text and "score" in text and "paper" in text


def test_names_of_edges_do_not_lie_on_one_another() -> None:
    """Two short joints side by side: their names keep apart, and none covers the pattern's own name."""
    from itertools import combinations

    from claybed.patterns.drawing_up import SEAM, _box, drawings
    from claybed.records.patterns import SlabPattern

    square = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 40.0], [0.0, 40.0]])
    steps = np.linspace(0.0, 1.0, 21)[:-1, None]
    edge = np.concatenate([a + steps * (b - a) for a, b in zip(square, np.roll(square, -1, 0), strict=True)])
    ends = [(x, x + 7.0) for x in (2.0, 9.0, 16.0, 23.0)]
    joints = tuple((f"A1{k}", (x, 0.0), (y, 0.0)) for k, (x, y) in enumerate(ends))
    pattern = SlabPattern(
        id="A1", copies=1, points_mm=np.zeros((3, 3)), faces=np.array([[0, 1, 2]]), laid_mm=edge[:3],
        outline_mm=edge, cut_mm=1.4 * edge - 8.0, darts=0, curvature_sr=0.0, spread_ratio=0.0,
        floor_ratio=0.0, stretch=np.ones(1), unrolled=False,
        joints=(*joints, (SEAM, (40.0, 0.0), (40.0, 40.0))),
    )  # fmt: skip
    (drawing,) = drawings([pattern], slab_mm=6.35, allowance_mm=8.0, us=True)
    boxes = [_box(label) for label in drawing.labels]
    assert not any(a.intersects(b) for a, b in combinations(boxes, 2))
    assert {"A1", "seam"} < {label.text for label in drawing.labels}
    assert sum(label.text.startswith("to ") for label in drawing.labels) >= 2
    assert "1/4 in" in drawing.says and " mm" not in drawing.says


@pytest.mark.parametrize(
    ("ask", "complaint"),
    [
        (PatternAsk(slab_mm=0.0), "--thickness"),
        (PatternAsk(allowance_mm=500.0), "--allowance"),
        (PatternAsk(stretch_fraction=0.9), "--stretch"),
        (PatternAsk(most_pieces=0), "--most"),
    ],
)
def test_what_no_one_presses_is_refused(tmp_path: Path, ask: PatternAsk, complaint: str) -> None:
    """An ask out of range is refused with the option to change."""
    with pytest.raises(InputError, match=complaint):
        slab_patterns.run({"plan": tmp_path, "out": tmp_path, "ask": ask}, lambda step, part: None)


def test_a_slab_that_fills_the_cavity_is_refused() -> None:
    """A slab thicker than the cavity is wide has no middle to lay flat."""
    from claybed.patterns.lining import lining_of
    from tests.pieces import solids

    ball, block = solids.sphere(8.0), solids.box(30.0, 30.0, 30.0)
    with pytest.raises(CannotError, match="fills the whole cavity"):
        lining_of([solids.from_manifold(solids.to_manifold(block) - solids.to_manifold(ball))], ball, 40.0)


def test_a_lining_lies_half_a_slab_from_the_plaster() -> None:
    """The middle of a 6 mm slab in a ball of radius 30 is a ball of radius 27."""
    from claybed.patterns.lining import lining_of
    from tests.pieces import solids

    ball, block = solids.sphere(30.0), solids.box(90.0, 90.0, 90.0)
    plaster = solids.from_manifold(solids.to_manifold(block) - solids.to_manifold(ball))
    ((points, faces),) = lining_of([plaster], ball, 6.0)
    radius = np.linalg.norm(points, axis=1)
    assert np.median(radius) == pytest.approx(27.0, abs=0.4)
    normal = np.cross(points[faces[:, 1]] - points[faces[:, 0]], points[faces[:, 2]] - points[faces[:, 0]])
    assert (np.einsum("ij,ij->i", normal, points[faces].mean(axis=1)) > 0.0).mean() > 0.99
