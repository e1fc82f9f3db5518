"""The 3D page: whole in itself, and true to the meshes it was made from."""

import base64
import json
import re
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from specimen import Specimen, plan

from claybed.errors import InputError
from claybed.geometry.mesh import Mesh
from claybed.scene.page import scene_data, view, write_view
from claybed.scene.wire import Box, packed, thinned


@pytest.fixture(scope="module")
def page(bottle: Specimen) -> str:
    """The page of the specimen."""
    return view(plan(), [(a, m) for a, m, _ in bottle.pieces], bottle.model, bottle.seam_loops_mm)


def array(text: str, kind: str, width: int) -> np.ndarray:
    """A packed array, unpacked as the page's script does it."""
    return np.frombuffer(base64.b64decode(text), kind).reshape(-1, width)


class Reader(HTMLParser):
    """Collects every attribute and checks that elements close."""

    def __init__(self) -> None:
        super().__init__()
        self.links: list[str] = []
        self.open: list[str] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep what points elsewhere."""
        self.links += [
            v or "" for k, v in attrs if k in ("src", "href", "srcset", "action", "data", "poster")
        ]
        if tag not in ("meta", "link", "input", "br"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        """Step out of the element."""
        while self.open and self.open.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        """Keep text that people read."""
        if not self.open or self.open[-1] not in ("script", "style"):
            self.text.append(data)


def test_the_page_asks_the_network_for_nothing(page: str) -> None:
    """No address but the one that names an XML space, no link out, and a policy that forbids any."""
    assert set(re.findall(r"https?://[^\s\"'`)]+", page)) <= {"http://www.w3.org/1999/xhtml"}
    assert not re.search(
        r"\b(fetch|XMLHttpRequest|WebSocket|importScripts)\b\s*\(", page.split('id="scene"')[0]
    )
    assert "default-src 'none'" in page
    reader = Reader()
    reader.feed(page)
    assert all(link.startswith("data:") for link in reader.links)
    assert "url(data:font/woff2" in page


def test_the_page_says_what_the_plan_says(page: str) -> None:
    """Weights, checks, findings and state can be read without any script."""
    reader = Reader()
    reader.feed(page)
    text = re.sub(r"[\s\u2009]+", " ", " ".join(reader.text))
    for need in (
        "1.340 kg",
        "1.740 kg",
        "111 mm",
        "Ready to pour",
        "Checks, 6 of 6 hold",
        "The shoulder locks 3.4 mm deep.",
    ):
        assert need in text


def test_the_page_speaks_us_units_when_asked(bottle: Specimen) -> None:
    """Pounds, inches on a ruler and findings are turned; no metric weight is left over."""
    pieces = [(a, m) for a, m, _ in bottle.pieces]
    reader = Reader()
    reader.feed(view(plan(), pieces, bottle.model, bottle.seam_loops_mm, us_units=True))
    text = re.sub(r"[\s\u2009]+", " ", " ".join(reader.text))
    for need in ("2 lb 15.2 oz", "4 3/8 in up from the board", "The shoulder locks 1/8 in deep."):
        assert need in text
    assert not re.search(r"\d (kg|mm)\b", text.split("Drag to turn")[0])


def test_not_ready_is_said_first(bottle: Specimen) -> None:
    """A plan that must not be poured says so with its reason; a ready one never does."""
    pieces = [(a, m) for a, m, _ in bottle.pieces]
    bad = view(plan(ready=False), pieces, bottle.model, bottle.seam_loops_mm)
    assert "NOT READY TO POUR" in bad
    assert bad.index("NOT READY TO POUR") < bad.index("<h2>Pours")
    assert "31 kg, at most 16 kg" in bad
    assert "NOT READY" not in view(plan(), pieces, bottle.model, bottle.seam_loops_mm)


def test_meshes_come_back_within_half_a_step(bottle: Specimen) -> None:
    """Faces and origins are the same, positions are off by no more than half a 16-bit step."""
    box = Box.around([bottle.model, *(m for _, m, _ in bottle.pieces)])
    for mesh in (bottle.model, bottle.pieces[0][1]):
        sent = packed(mesh, box)
        points = box.low_mm + array(sent["p"], "<u2", 3) / 65535.0 * box.size_mm
        assert np.abs(points - mesh.vertices_mm).max() <= box.size_mm / 65535.0 / 2 * 1.001
        assert (array(sent["f"], "<u4", 3) == mesh.faces).all()
        assert (array(sent["o"], "u1", 1)[:, 0] == mesh.origin).all()


def test_pulls_letters_and_seam_reach_the_script(bottle: Specimen, page: str) -> None:
    """The script's data hold every piece with its pull, and each seam closed."""
    found = re.search(r'<script type="application/json" id="scene">(.*?)</script>', page, re.DOTALL)
    assert found
    told = json.loads(found.group(1))
    assert [(p["id"], p["pull"]) for p in told["pieces"]] == [("A", [0.0, 0.0, -1.0]), ("B", [0.0, 0.0, 1.0])]
    assert all(loop[0] == loop[-1] for loop in told["seam"])
    assert len(told["seam"]) == len(bottle.seam_loops_mm)


def test_a_name_cannot_break_out_of_the_page(bottle: Specimen) -> None:
    """Markup in names and findings is text, in the body and inside the script's data."""
    asked = plan()
    asked["object"]["name"] = "</script><script>alert(1)</script> %%SCENE%%"
    asked["findings"][0]["says"] = "<img src=x onerror=alert(2)>"
    for piece in asked["pieces"]:
        piece["id"] = f"<b>{piece['id']}"
    pieces = [(f"<b>{a}", m) for a, m, _ in bottle.pieces]
    text = view(asked, pieces, bottle.model, bottle.seam_loops_mm)
    assert "<script>alert" not in text
    assert "<img" not in text
    assert "<b>A" not in text
    assert text.count("</script>") == 3


def test_sixty_thousand_triangles_stay_under_two_and_a_half_megabytes(tmp_path: Path) -> None:
    """A page of a plan with 60 000 triangles can be mailed."""
    side = 101
    x, y = np.meshgrid(np.linspace(0, 100, side), np.linspace(0, 100, side))
    points = np.column_stack([x.ravel(), y.ravel(), np.random.default_rng(1).normal(0, 0.2, side * side)])
    at = np.arange(side * side).reshape(side, side)
    quads = np.stack([at[:-1, :-1], at[:-1, 1:], at[1:, 1:], at[1:, :-1]], axis=-1).reshape(-1, 4)
    mesh = Mesh.make(points, np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]]), frame="block")
    assert len(mesh.faces) * 3 == 60_000
    out = tmp_path / "view.html"
    write_view(plan(), [("A", mesh), ("B", mesh)], mesh, [], out)
    assert out.stat().st_size < 2_500_000


def test_thinning_is_done_only_above_the_limit_and_is_said(
    bottle: Specimen, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Below the limit meshes are the very same; above it there are fewer triangles, and the page says so."""
    meshes = [bottle.model, *(m for _, m, _ in bottle.pieces)]
    same, fewer = thinned(meshes)
    assert not fewer
    assert all(a is b for a, b in zip(same, meshes, strict=True))
    cut, fewer = thinned(meshes, most=4000)
    assert fewer
    assert sum(len(m.faces) for m in cut) < 5000
    assert set(np.unique(cut[0].origin)) <= set(np.unique(bottle.model.origin))
    monkeypatch.setattr("claybed.scene.wire.thinned.__defaults__", (4000,))
    told = scene_data(plan(), [(a, m) for a, m, _ in bottle.pieces], bottle.model, [])
    assert re.fullmatch(
        r"Thinned for viewing from \d+ to \d+ triangles; the files of the pieces are complete\.",
        told["thinned"],
    )


def test_what_cannot_be_shown_is_said(bottle: Specimen) -> None:
    """A piece the plan does not know and an empty mesh are refused in one line."""
    with pytest.raises(InputError, match="piece Z"):
        view(plan(), [("Z", bottle.pieces[0][1])], bottle.model, [])
    empty = Mesh.make(np.zeros((0, 3)), np.zeros((0, 3), int), frame="block")
    with pytest.raises(InputError, match="no faces"):
        view(plan(), [("A", empty)], bottle.model, [])
