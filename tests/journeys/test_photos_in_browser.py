"""A photo in a real browser: brought, its outline dragged by pointer, touch and keys, measured and kept."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from playwright.sync_api import Browser, Locator, Page, expect

from claybed.web import photo_work
from tests.journeys.running_app import Running
from tests.photos.rings import bottle_picture

PHONE = {"width": 390, "height": 844}


@pytest.fixture(scope="module")
def bottle(studio: Running, tmp_path_factory: pytest.TempPathFactory, browser: Browser) -> str:
    """The address of the outline of a bottle, as a person brings it."""
    photo = tmp_path_factory.mktemp("photo") / "bottle.jpg"
    photo.write_bytes(bottle_picture())
    page = browser.new_context().new_page()
    page.goto(studio.address)
    page.get_by_role("link", name="Bring an object").click()
    page.get_by_role("link", name="photos", exact=True).click()
    page.get_by_label("Photos", exact=True).set_input_files([photo] * 3)
    expect(page.locator("#files-say")).to_contain_text("3 photos make no object")
    assert page.evaluate("document.getElementById('files').validity.customError")
    page.get_by_label("Photos", exact=True).set_input_files(photo)
    expect(page.locator("#files-say")).to_contain_text("taken as turned")
    page.get_by_label("The mat’s check bar").fill("150")
    page.get_by_role("button", name="Find the outline").click()
    expect(page.get_by_role("heading", name="By this outline")).to_be_visible(timeout=120_000)
    address = page.url
    page.context.close()
    return address


def opened(page: Page, address: str) -> Locator:
    """The stage of the outline once it can be dragged."""
    page.goto(address)
    page.wait_for_selector(".photo-stage[data-ready]")
    return page.locator(".photo-stage")


def line_of(stage: Locator) -> list[tuple[float, float]]:
    """The outline's points as they are drawn, pixels of the photo."""
    text = stage.locator(".drawn .edge").get_attribute("points") or ""
    return [(float(x), float(y)) for x, y in (pair.split(",") for pair in text.split())]


def moved(before: list[tuple[float, float]], after: list[tuple[float, float]]) -> list[int]:
    """Which points are no longer where they were."""
    return [k for k, (a, b) in enumerate(zip(before, after, strict=True)) if a != b]


def test_an_outline_is_dragged_measured_and_kept(page: Page, bottle: str) -> None:
    """A drag bulges the side of the bottle, the volume follows, and what is kept is that object."""
    said: list[str] = []
    page.on("pageerror", lambda error: said.append(str(error)))
    stage = opened(page, bottle)
    before = line_of(stage)
    was = page.locator(".facts.big").inner_text()
    expect(page.get_by_role("button", name="Measure with this outline")).to_be_disabled()
    handle = stage.locator(".points circle").nth(10)
    stage.get_by_label("A drag takes along").fill("3")
    handle.scroll_into_view_if_needed()
    spot = handle.bounding_box()
    assert spot is not None
    middle = sum(x for x, _ in before) / len(before)
    out = 1 if float(handle.get_attribute("cx") or 0) > middle else -1
    page.mouse.move(spot["x"] + spot["width"] / 2, spot["y"] + spot["height"] / 2)
    page.mouse.down()
    page.mouse.move(spot["x"] + spot["width"] / 2 + 40 * out, spot["y"] + spot["height"] / 2, steps=5)
    page.mouse.up()
    after = line_of(stage)
    changed = moved(before, after)
    assert 20 < len(changed) < len(before) / 2
    far = max(abs(after[k][0] - before[k][0]) for k in changed)
    assert far > 15
    expect(page.get_by_role("button", name="Measure first, then keep it")).to_be_disabled()
    page.get_by_role("button", name="Measure with this outline").click()
    page.wait_for_url(bottle)
    expect(page.locator(".facts.big")).not_to_have_text(was, timeout=120_000)
    page.wait_for_selector(".photo-stage[data-ready]")
    kept = line_of(stage)
    assert len(kept) == len(after)
    assert all(a == pytest.approx(b, abs=0.06) for a, b in zip(kept, after, strict=True))
    number = r"[\d.]+"
    grown, first = (
        float((re.search(number, text) or [""])[0]) for text in (page.locator(".facts.big").inner_text(), was)
    )
    assert grown > first
    page.get_by_role("button", name="Keep the object").click()
    expect(page.get_by_role("heading", name="Leave", exact=True)).to_be_visible(timeout=240_000)
    expect(page.locator(".facts").first).to_contain_text("±")
    assert said == []


def test_keys_and_buttons_do_what_a_drag_does(page: Page, bottle: str) -> None:
    """Points are chosen and moved with keys and with buttons, told in words, and every step can be undone."""
    stage = opened(page, bottle)
    before = line_of(stage)
    stage.locator(".drawn").focus()
    page.keyboard.press("PageDown")
    page.keyboard.press("PageDown")
    expect(stage.locator(".told")).to_contain_text("Point 3 of")
    page.keyboard.press("Shift+ArrowLeft")
    by_key = line_of(stage)
    assert moved(before, by_key)
    assert min(b[0] - a[0] for a, b in zip(before, by_key, strict=True)) <= -10.0
    stage.get_by_role("button", name="Undo").click()
    assert line_of(stage) == before
    stage.get_by_role("button", name="Point after").click()
    expect(stage.locator(".told")).to_contain_text("Point 4 of")
    stage.get_by_role("button", name="Point up").click()
    assert moved(before, line_of(stage))
    stage.get_by_role("button", name="As it was").click()
    assert line_of(stage) == before
    stage.get_by_role("button", name="Whole photo").click()
    assert (stage.locator(".drawn").get_attribute("viewBox") or "").endswith("960 1280")


def test_a_finger_drags_on_a_phone(browser: Browser, bottle: str) -> None:
    """On a phone a touch on the line moves it, and the page neither scrolls away nor is too wide."""
    context = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True)  # type: ignore[arg-type]
    page = context.new_page()
    stage = opened(page, bottle)
    before, was = line_of(stage), stage.locator(".drawn .edge").get_attribute("points")
    spot = stage.locator(".points circle").nth(8).bounding_box()
    assert spot is not None
    x, y = spot["x"] + spot["width"] / 2, spot["y"] + spot["height"] / 2
    touch = context.new_cdp_session(page)
    for kind, dx in (("touchStart", 0), ("touchMove", 10), ("touchMove", 24), ("touchEnd", 24)):
        points = [] if kind == "touchEnd" else [{"x": x + dx, "y": y}]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
    page.wait_for_function(
        "was => document.querySelector('.drawn .edge').getAttribute('points') !== was",
        arg=was,
    )
    assert moved(before, line_of(stage))
    assert page.evaluate("window.scrollY") == 0
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    context.close()


@pytest.mark.parametrize("name", ["outline", "photos", "readings"])
def test_pages_of_photos_can_be_read_by_everyone(page: Page, studio: Running, bottle: str, name: str) -> None:
    """No page breaks a rule of WCAG that axe can test, light or dark, and none is wider than a phone."""
    page.set_viewport_size(PHONE)  # type: ignore[arg-type]
    page.goto(bottle if name == "outline" else f"{studio.address}/objects/{name}", wait_until="networkidle")
    for bench in ("light", "dark"):
        page.emulate_media(color_scheme=bench, reduced_motion="reduce")  # type: ignore[arg-type]
        found = Axe().run(page).response["violations"]
        assert [(rule["id"], [node["html"][:120] for node in rule["nodes"]]) for rule in found] == [], bench
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]


def test_photos_of_a_ring_are_taken_out_and_corrected(
    page: Page, studio: Running, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A ring's photos stand side by side; one loses its tick and is out, another's outline is dragged in its
    own view, and both can be told from the page afterwards.
    """
    monkeypatch.setattr(photo_work, "_RING", "tests.journeys.ring_target:run")
    files = [tmp_path / f"round {k}.jpg" for k in range(8)]
    for file in files:
        Image.new("RGB", (40, 30)).save(file)
    page.goto(f"{studio.address}/objects/photos")
    page.get_by_label("Photos", exact=True).set_input_files(files)
    page.get_by_role("button", name="Find the outline").click()
    expect(page.get_by_role("heading", name="By these outlines")).to_be_visible(timeout=120_000)
    photos = page.locator(".ring li")
    expect(photos).to_have_count(8)
    expect(photos.nth(3)).to_contain_text("has an outline that shows too much")
    expect(photos.nth(4)).to_contain_text("No mat found")
    photos.nth(1).get_by_role("checkbox").uncheck()
    page.get_by_role("button", name="Measure with the ticked photos").click()
    expect(photos.nth(1)).to_contain_text("Taken out.", timeout=120_000)
    expect(photos.nth(1).get_by_role("checkbox")).not_to_be_checked()

    page.get_by_role("link", name="Correct the outline of photo 3").click()
    page.wait_for_selector(".photo-stage[data-ready]")
    stage = page.locator(".photo-stage")
    before = line_of(stage)
    stage.locator(".drawn").focus()
    page.keyboard.press("Shift+ArrowRight")
    after = line_of(stage)
    assert moved(before, after)
    page.get_by_role("button", name="Measure with this outline").click()
    expect(photos.nth(2)).to_contain_text("With your outline.", timeout=120_000)
    # It stands there while the ring is measured anew; when that ends, the page opens once more.
    expect(page.locator(".job")).to_have_count(0)
    found = Axe().run(page).response["violations"]
    assert [(rule["id"], [node["html"][:120] for node in rule["nodes"]]) for rule in found] == []
    page.set_viewport_size(PHONE)  # type: ignore[arg-type]
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    page.get_by_role("link", name="Correct the outline of photo 3").click()
    page.wait_for_selector(".photo-stage[data-ready]")
    kept = line_of(page.locator(".photo-stage"))
    assert all(a == pytest.approx(b, abs=0.06) for a, b in zip(kept, after, strict=True))
    page.get_by_role("button", name="Find the outline anew").click()
    expect(photos.nth(2)).not_to_contain_text("With your outline.", timeout=120_000)
