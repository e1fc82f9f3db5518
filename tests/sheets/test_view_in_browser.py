"""The 3D page in a real browser, from a file, with no server: what is drawn is looked at pixel by pixel."""

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from specimen import Specimen, plan

from claybed.assets.palette import OXIDE, rgb
from claybed.scene.page import write_view

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
FLAGS = [
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
    "--hide-scrollbars",
    "--enable-logging=stderr",
    "--timeout=4000",
]

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no Chromium here: the 3D page was not looked at")


def looked_at(
    page: Path, size: tuple[int, int], drawn: Callable[[np.ndarray], bool] = lambda _: True
) -> tuple[np.ndarray, str]:
    """The page's picture as (h, w, 3) and what the browser logged.

    A busy machine may be asked for the picture before the stage is drawn, so the browser looks up to four
    times until `drawn` holds; what it saw last is given either way, and the test judges it.
    """
    for _ in range(3):
        picture, log = looked_once(page, size)
        if drawn(picture):
            return picture, log
    return looked_once(page, size)


def looked_once(page: Path, size: tuple[int, int]) -> tuple[np.ndarray, str]:
    """One look of the browser at the page."""
    shot = page.with_suffix(".png")
    profile = page.parent / "profile"
    told = subprocess.run(
        [
            str(CHROMIUM),
            *FLAGS,
            f"--user-data-dir={profile}",
            f"--window-size={size[0]},{size[1]}",
            f"--screenshot={shot}",
            page.as_uri(),
        ],
        capture_output=True,
        text=True,
        timeout=90,
        check=False,
    )
    return np.asarray(Image.open(shot).convert("RGB"), dtype=int), told.stderr


def test_the_mold_is_drawn_and_nothing_complains(bottle: Specimen, tmp_path: Path) -> None:
    """Both piece colours and the hatched fill are on the stage, and the console holds no error."""
    page = tmp_path / "view.html"
    write_view(plan(), [(a, m) for a, m, _ in bottle.pieces], bottle.model, bottle.seam_loops_mm, page)

    def warm_part(stage: np.ndarray) -> np.ndarray:
        return (stage[..., 0] - stage[..., 2] > 50) & (stage[..., 1] > 110)

    picture, log = looked_at(page, (1200, 800), lambda seen: warm_part(seen[80:560, 30:760]).sum() > 8000)
    assert "Uncaught" not in log
    assert "Refused to" not in log
    stage = picture[80:560, 30:760]
    warm = warm_part(stage)
    cool = (stage[..., 2] - stage[..., 0] > 10) & (stage[..., 1] > 80)
    oxide = np.linalg.norm(stage - np.array(rgb(OXIDE)), axis=2) < 60
    assert warm.sum() > 8000
    assert cool.sum() > 8000
    assert oxide.sum() > 40
    assert np.median(np.flatnonzero(cool.any(axis=1))) < np.median(np.flatnonzero(warm.any(axis=1)))


def test_a_cut_shows_hatched_faces(bottle: Specimen, tmp_path: Path) -> None:
    """With the cut switched on the near half is gone and stripes appear where plaster was cut."""
    page = tmp_path / "view.html"
    write_view(plan(), [(a, m) for a, m, _ in bottle.pieces], bottle.model, bottle.seam_loops_mm, page)

    def flips(picture: np.ndarray) -> int:
        grey = picture[80:560, 30:760].sum(axis=2)
        return int((np.abs(np.diff(grey, axis=1)) > 150).sum())

    whole, _ = looked_at(page, (1200, 800), lambda seen: flips(seen) > 500)
    switch = (
        "<script>const a=document.getElementById('across');a.value='1';"
        "a.dispatchEvent(new Event('change'))</script></body>"
    )
    page.write_text(page.read_text(encoding="utf-8").replace("</body>", switch), encoding="utf-8")
    cut, _ = looked_at(page, (1200, 800), lambda seen: flips(seen) > flips(whole) + 2000)
    assert flips(cut) > flips(whole) + 2000
