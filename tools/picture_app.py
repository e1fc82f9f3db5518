"""Pictures of every page of the app, at phone and desktop size, of the demonstration studio.

Start the app on an empty folder, then run this; it waits for the gourd. Needs Chromium and the test extra.
With a photo of something on the mat, the page of its outline is pictured as well.

Run: .venv/bin/python tools/picture_app.py http://127.0.0.1:8731 docs/pictures/app [photo.jpg]
"""

from __future__ import annotations

import io
import re
import shutil
import sys
import time
from pathlib import Path

from PIL import Image
from playwright.sync_api import Error, Page, sync_playwright

SIZES = {"desk": (1280, 860), "phone": (390, 844)}
COLOURS = 96
WEIGHTS = ("5.6 kg", "5.1 kg", "4.6 kg")


def found(page: Page, kind: str) -> str | None:
    """The first id of a kind ("objects", "plans" or "molds") that a page links to."""
    match = re.search(rf"/{kind}/([A-Z0-9]{{5}})\b", page.content())
    return match[1] if match else None


def go(page: Page, address: str) -> None:
    """Open a page; once more where the page before it was just about to open another of its own accord."""
    try:
        page.goto(address)
    except Error as fault:
        if "ERR_ABORTED" not in str(fault) and "interrupted by another navigation" not in str(fault):
            raise
        page.wait_for_load_state()
        page.goto(address)


def prepare(page: Page, address: str) -> dict[str, str]:
    """Ids of the demonstration object, its plan, and a mold of it with three weighings."""
    go(page, address)
    thing = found(page, "objects")
    assert thing is not None
    plan = None
    while plan is None:
        go(page, f"{address}/objects/{thing}")
        plan = found(page, "plans")
        time.sleep(1.0)
    go(page, f"{address}/plans/{plan}")
    mold = found(page, "molds")
    if mold is None:
        page.get_by_label("Name of this mold").fill("Gourd bottle")
        page.get_by_role("button", name="Enter the mold").click()
        page.wait_for_url("**/molds/*")
        mold = page.url.rpartition("/")[2]
        for number, weight in enumerate(WEIGHTS):
            go(page, f"{address}/molds/{mold}")
            page.get_by_label("Weight").first.fill(weight)
            if number == 0:
                page.get_by_label("Just set and trimmed").check()
            # The form is sent by the page itself: leaving before it has answered would lose the weight.
            with page.expect_response(lambda answer: answer.request.method == "POST"):
                page.get_by_role("button", name="Log the weight").click()
            page.wait_for_load_state("networkidle")
    go(page, f"{address}/plans/{plan}/cases")
    if page.get_by_role("heading", name="Take care").count() == 0:
        page.get_by_role("button", name="Make the cases").click()
        page.get_by_role("heading", name="Take care").wait_for(timeout=600_000)
    return {"object": thing, "plan": plan, "mold": mold}


def bring(page: Page, address: str, photo: Path) -> str:
    """The id of an object whose photo was brought, once its outline is found."""
    go(page, f"{address}/objects/photos")
    page.get_by_label("Photos", exact=True).set_input_files(photo)
    page.get_by_label("The mat’s check bar").fill("150")
    page.get_by_role("button", name="Find the outline").click()
    page.wait_for_selector(".photo-stage[data-ready]", timeout=120_000)
    return page.url.split("/")[-2]


PAGES = {
    "objects": "/",
    "object": "/objects/{object}",
    "painted": "/objects/{object}",
    "plan": "/plans/{plan}",
    "walls": "/plans/{plan}",
    "cases": "/plans/{plan}/cases",
    "readings": "/objects/readings",
    "photos": "/objects/photos",
    "outline": "/objects/{photo}/outline",
    "pour-day": "/pour/{mold}",
    "shelf": "/shelf",
    "mold": "/molds/{mold}",
    "cast": "/molds/{mold}/cast",
    "press": "/molds/{mold}/press",
    "register": "/register",
    "mix": "/mix",
    "settings": "/settings",
    "tag": "/molds/{mold}/tag",
}


def act(page: Page, name: str) -> None:
    """Bring a page to where it shows what it is for."""
    if name == "pour-day":
        while not page.locator("#title").inner_text().startswith("Sift"):
            page.get_by_role("button", name="Done, next").click()
    if name in ("object", "painted"):
        page.wait_for_selector("#stage[data-shown]")
    if name in ("plan", "walls"):
        page.wait_for_selector("#view[data-ready]")
        page.wait_for_timeout(1500)
    if name == "painted":
        page.get_by_role("button", name="Paint where no seam may run").click()
        page.locator("#stage").scroll_into_view_if_needed()
        box = page.locator("#stage canvas").bounding_box()
        assert box is not None
        x, y = box["x"] + 0.53 * box["width"], box["y"] + 0.45 * box["height"]
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x + 0.03 * box["width"], y + 0.2 * box["height"], steps=6)
        page.mouse.up()
        page.wait_for_timeout(800)
    if name == "walls":
        # By key: a frame of its own may take a click that comes right after the page was scrolled.
        page.get_by_role("button", name="Show the plaster’s wall in the picture").press("Enter")
        page.wait_for_timeout(1500)
    if name == "mix":
        for label, text in (("Inside length", "175"), ("Inside width", "235"), ("Pour height", "100")):
            page.get_by_label(label).first.fill(text)


def main(address: str, folder: Path, photo: Path | None) -> None:
    """Write one PNG for each page and size into `folder`."""
    folder.mkdir(parents=True, exist_ok=True)
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    flags = ["--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--disable-background-networking"]
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium, args=flags)
        ids = prepare(browser.new_page(), address)
        if photo is not None:
            ids["photo"] = bring(browser.new_page(), address, photo)
        for size, (width, height) in SIZES.items():
            page = browser.new_page(viewport={"width": width, "height": height})
            for name, path in PAGES.items():
                if "{photo}" in path and photo is None:
                    continue
                go(page, address + path.format(**ids))
                page.wait_for_timeout(1800)
                act(page, name)
                shot = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
                few = shot.quantize(COLOURS, dither=Image.Dither.NONE)
                few.save(folder / f"{name}-{size}.png", optimize=True)
        browser.close()


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]), Path(sys.argv[3]) if len(sys.argv) > 3 else None)
