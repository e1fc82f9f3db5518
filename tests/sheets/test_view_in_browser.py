"""The 3D page in a real browser, from a file, with no server: what is drawn is looked at pixel by pixel."""

import io
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image
from playwright.sync_api import Page
from specimen import Specimen, plan

from claybed.assets.palette import OXIDE, rgb
from claybed.scene.page import write_view
from tests.pieces import solids


def open_view(page: Page, bottle: Specimen, folder: Path, told: dict[str, Any] | None = None) -> list[str]:
    """Open the specimen's page, drawn, of another plan if `told`; what the browser complains of is added to
    the list.
    """
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    file = folder / "view.html"
    write_view(
        told or plan(), [(a, m) for a, m, _ in bottle.pieces], bottle.model, bottle.seam_loops_mm, file
    )
    page.set_viewport_size({"width": 1200, "height": 800})
    page.goto(file.as_uri())
    page.wait_for_selector("canvas[data-drawn]")
    return complaints


def stage_of(page: Page) -> np.ndarray:
    """The part of the page's picture where the mold stands, (h, w, 3)."""
    picture = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
    return np.asarray(picture, dtype=int)[80:560, 30:760]


def test_the_mold_is_drawn_and_nothing_complains(page: Page, bottle: Specimen, tmp_path: Path) -> None:
    """Both piece colours and the hatched fill are on the stage, and the console holds no error."""
    complaints = open_view(page, bottle, tmp_path)
    stage = stage_of(page)
    assert complaints == []
    warm = (stage[..., 0] - stage[..., 2] > 50) & (stage[..., 1] > 110)
    cool = (stage[..., 2] - stage[..., 0] > 10) & (stage[..., 1] > 80)
    oxide = np.linalg.norm(stage - np.array(rgb(OXIDE)), axis=2) < 60
    assert warm.sum() > 8000
    assert cool.sum() > 8000
    assert oxide.sum() > 40
    assert np.median(np.flatnonzero(cool.any(axis=1))) < np.median(np.flatnonzero(warm.any(axis=1)))


def test_a_piece_that_leaves_aslant_stays_in_the_picture(
    page: Page, bottle: Specimen, tmp_path: Path
) -> None:
    """With the pieces as far apart as they go, one that leaves along a corner is seen whole."""
    told = plan()
    told["pieces"][1]["leaves"] = [-0.577, -0.577, -0.577]
    open_view(page, bottle, tmp_path, told)
    canvas = page.locator("canvas[data-drawn]")
    drawn = canvas.get_attribute("data-drawn")
    page.locator("#apart").fill("100")
    page.wait_for_function(
        "was => document.querySelector('canvas[data-drawn]').dataset.drawn !== was", arg=drawn
    )
    stage = np.asarray(Image.open(io.BytesIO(canvas.screenshot())).convert("RGB"), dtype=int)
    cool = (stage[..., 2] - stage[..., 0] > 10) & (stage[..., 1] > 80)
    rows, columns = cool.any(axis=1), cool.any(axis=0)
    assert cool.sum() > 1500
    assert not (rows[:4].any() or rows[-4:].any() or columns[:4].any() or columns[-4:].any())


def test_a_cut_shows_hatched_faces(page: Page, bottle: Specimen, tmp_path: Path) -> None:
    """With the cut switched on the near half is gone and stripes appear where plaster was cut."""
    open_view(page, bottle, tmp_path)

    def flips() -> int:
        return int((np.abs(np.diff(stage_of(page).sum(axis=2), axis=1)) > 150).sum())

    whole = flips()
    drawn = page.locator("canvas[data-drawn]").get_attribute("data-drawn")
    page.locator("#across").select_option("1")
    page.wait_for_function(
        "was => document.querySelector('canvas[data-drawn]').dataset.drawn !== was", arg=drawn
    )
    assert flips() > whole + 2000


def test_a_place_is_seen_past_the_side_piece_that_left_over_it(
    page: Page, bottle: Specimen, tmp_path: Path
) -> None:
    """What stands between the eye and a lit place goes out of sight, and comes back with the mark's end. The
    first look is from where no side piece has left to.
    """
    told = plan()
    corners = np.concatenate([mesh.vertices_mm for _, mesh, _ in bottle.pieces])
    low, high = corners.min(axis=0), corners.max(axis=0)
    wide_mm, _, tall_mm = (float(side) for side in high - low)
    slab = solids.box(wide_mm, 30.0, tall_mm)
    ahead = np.array([0.0, low[1] - 15.0, (low[2] + high[2]) / 2.0])
    front = slab.moved(np.eye(3), ahead, frame=bottle.model.frame)
    third = replace(bottle, pieces=[*bottle.pieces, ("C", front, (0.0, -1.0, 0.0))])
    told["pieces"].append({**told["pieces"][1], "id": "C", "pull": [0.0, -1.0, 0.0]})
    # On the front of the object, in its middle: one looks at it from where the third piece stands.
    places = bottle.model.vertices_mm
    spot = places[(places[:, 1] + np.abs(places[:, 0]) + np.abs(places[:, 2] - ahead[2])).argmin()]
    told["findings"] = [{**told["findings"][0], "at_mm": spot.tolist()}]
    assert open_view(page, third, tmp_path, told) == []
    box = page.locator('[data-part="2"]')
    page.get_by_role("button", name="Show where").first.click()
    assert not box.is_checked()
    page.get_by_role("button", name="Clear the mark").click()
    assert box.is_checked()
