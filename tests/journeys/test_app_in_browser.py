"""The app in a real browser: from a file to a sheet, on pour day, at the shelf, over the network."""

from __future__ import annotations

import io
import json
import math
from datetime import UTC, datetime, timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from playwright.sync_api import Browser, Page, expect

from claybed.actions.asking import keep_out
from claybed.actions.mixing import Space, mix_document
from claybed.records.brief import KeepOut
from claybed.register import entering, keeping
from claybed.register.devices import let_in
from tests.journeys.running_app import Running

PHONE = {"width": 390, "height": 844}
Ids = dict[str, str]


def complaints(page: Page) -> list[str]:
    """What the page's console complains of, filled while the page is used."""
    said: list[str] = []
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("console", lambda line: said.append(line.text) if line.type == "error" else None)
    return said


def let_draw(page: Page) -> None:
    """Wait until what was asked to be drawn has been."""
    page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")


def point_along(page: Page, tilt_deg: float, turn_deg: float) -> None:
    """Turn the pull by its sliders and wait until what locks along it is told and drawn."""
    page.get_by_label("Tilt from upright").fill(f"{tilt_deg:g}")
    page.get_by_label("Turn round").fill(f"{turn_deg:g}")
    tilt, turn = math.radians(tilt_deg), math.radians(turn_deg)
    way = [math.sin(tilt) * math.cos(turn), math.sin(tilt) * math.sin(turn), math.cos(tilt)]
    page.wait_for_function(
        "way => { const at = document.getElementById('stage').dataset.shown.split(',').map(Number);"
        " return way.every((v, k) => Math.abs(v - at[k]) < 1e-3); }",
        arg=way,
    )
    let_draw(page)


def seconds_left(page: Page) -> float:
    """What the timer of a step shows, s."""
    minutes, seconds = page.locator("#clock").inner_text().split(":")[-2:]
    return 60.0 * float(minutes) + float(seconds)


def stop_clock(page: Page) -> None:
    """Stop the page's clock: from here on it moves only as the test says."""
    page.clock.install()
    page.clock.pause_at(datetime.now(UTC) + timedelta(seconds=60.0))


def test_from_a_file_to_a_printed_sheet(page: Page, studio: Running, tumbler: Ids) -> None:
    """A person brings a file, waits for the picture, plans, and gets a sheet as PDF."""
    said = complaints(page)
    page.goto(studio.address)
    page.get_by_role("link", name="Bring an object").click()
    page.get_by_label("File of the object").set_input_files(tumbler["file"])
    page.get_by_label("What you call it").fill("Cup from the fair")
    page.get_by_role("button", name="Look at it").click()
    expect(page.get_by_role("heading", name="Cup from the fair")).to_be_visible()
    expect(page.get_by_role("heading", name="Leave", exact=True)).to_be_visible(timeout=120_000)
    page.get_by_role("button", name="Plan the mold").click()
    expect(page.get_by_role("heading", name="The mold")).to_be_visible(timeout=200_000)
    expect(page.get_by_text("Ready to pour")).to_be_visible()
    address = page.get_by_role("link", name="Bench sheet", exact=True).get_attribute("href")
    sheet = page.request.get(f"{studio.address}{address}")
    assert sheet.body().startswith(b"%PDF")
    assert said == []


def test_the_pull_is_turned_by_hand(page: Page, studio: Running, tumbler: Ids) -> None:
    """Dragging the arrow turns the pull and what locks is told anew; the sliders do the same."""
    said = complaints(page)
    page.goto(f"{studio.address}/objects/{tumbler['object']}")
    stage = page.locator("#stage")
    page.wait_for_selector("#stage[data-shown]")
    before = stage.get_attribute("data-shown")
    page.get_by_label("Tilt from upright").fill("35")
    page.wait_for_function("was => document.getElementById('stage').dataset.shown !== was", arg=before)
    # A cup with a handle, pulled across its handle's plane or along it, locks or does not; the text follows.
    told = set()
    for turn_deg in (0.0, 45.0, 90.0):
        point_along(page, 90.0, turn_deg)
        told.add(page.locator("#live-fill").inner_text())
    assert len(told) > 1
    before = stage.get_attribute("data-shown")
    tip = page.evaluate("() => window.claybedTip()")
    page.mouse.move(tip["x"], tip["y"])
    page.mouse.down()
    page.mouse.move(tip["x"] + 60, tip["y"] + 90, steps=6)
    page.mouse.up()
    page.wait_for_function("was => document.getElementById('stage').dataset.shown !== was", arg=before)
    assert said == []


def test_what_locks_is_hatched_on_the_stage(page: Page, studio: Running, tumbler: Ids) -> None:
    """Along a pull that locks, the undercut is drawn in oxide stripes; along one that does not, not."""
    page.goto(f"{studio.address}/objects/{tumbler['object']}")
    page.wait_for_selector("#stage[data-shown]")
    counts = []
    for turn_deg in (0.0, 90.0):
        point_along(page, 90.0, turn_deg)
        shot = Image.open(io.BytesIO(page.locator("#stage canvas").screenshot())).convert("RGB")
        dark = sum(
            1
            for r, g, b in shot.get_flattened_data()
            if r > 70 and r > 1.8 * g and r > 1.4 * b and abs(g - b) < 60
        )
        counts.append(dark)
    assert max(counts) > 200
    assert min(counts) < max(counts)


def test_a_band_where_no_seam_may_run(page: Page, studio: Running, tumbler: Ids) -> None:
    """A band chosen on the object is darkened there and goes into the plan's question as a region."""
    page.goto(f"{studio.address}/objects/{tumbler['object']}")
    page.wait_for_selector("#stage[data-shown]")
    let_draw(page)
    before = page.locator("#stage canvas").screenshot()
    page.get_by_label("Band across").select_option("z")
    page.get_by_label("from", exact=True).fill("20")
    page.get_by_label("to", exact=True).fill("60")
    let_draw(page)
    asked = page.locator("#keep_out").input_value()
    region = keep_out(asked, where="the band")
    assert isinstance(region, KeepOut)
    assert region.direction == (0.0, 0.0, 1.0)
    assert region.hi_mm - region.lo_mm == pytest.approx(0.4 * 90.0, abs=1.0)
    assert page.locator("#stage canvas").screenshot() != before


def test_pour_day_goes_on_through_reload_and_a_lost_network(
    page: Page, studio: Running, tumbler: Ids
) -> None:
    """Timers keep their end through a reload, ring when they are due, and entries wait for the network."""
    stop_clock(page)
    page.goto(f"{studio.address}/pour/{tumbler['mold']}")
    while not page.locator("#title").inner_text().startswith("Sift"):
        for box in page.locator("#ask input").all():
            box.fill("21" if "_c" in str(box.get_attribute("id")) else "1234")
        page.get_by_role("button", name="Done, next").click()
    assert page.evaluate("document.querySelectorAll('#ask [aria-invalid=true]').length") == 0
    page.get_by_role("button", name="Start", exact=True).click()
    page.clock.run_for(60_000)
    left_s = seconds_left(page)
    assert 60.0 <= left_s < 120.0
    page.reload()
    assert seconds_left(page) == left_s
    page.context.set_offline(True)
    page.clock.run_for(100_000)
    expect(page.locator("#alarm")).to_contain_text("time is up")
    page.locator("#alarm").click()
    while not page.locator("#title").inner_text().startswith("Let it set"):
        page.get_by_role("button", name="Done, next").click()
    expect(page.locator("#link")).to_contain_text("to send when the network is back")
    register = studio.app.state.studio.register
    with register.reading() as db:
        assert entering.entries(db, "pour", tumbler["mold"]) == []
    page.context.set_offline(False)
    page.clock.run_for(16_000)
    expect(page.locator("#link")).to_be_empty()
    page.reload()
    page.clock.run_for(16_000)
    with register.reading() as db:
        kept = entering.entries(db, "pour", tumbler["mold"])
    assert len(kept) == len({entry["client_key"] for entry in kept}) >= 1
    assert kept[0]["water_g"] == 1234.0
    assert json.loads(kept[0]["shown"])


def test_a_cast_is_timed_and_logged_once(page: Page, studio: Running, tumbler: Ids) -> None:
    """The timer of a cast lasts through a reload with no network, and its wall reaches the register once."""
    stop_clock(page)
    page.goto(f"{studio.address}/molds/{tumbler['mold']}/cast?wall=3mm&k=1.5")
    page.get_by_role("link", name="Start this cast").click()
    page.get_by_role("button", name="Done, next").click()
    expect(page.locator("#title")).to_have_text("Let it stand")
    page.get_by_role("button", name="Start", exact=True).click()
    page.clock.run_for(60_000)
    assert seconds_left(page) == 5 * 60.0  # 3² / 1.5 is 6 minutes
    page.evaluate("() => navigator.serviceWorker.ready")
    page.reload()
    page.context.set_offline(True)
    page.reload()
    page.clock.run_for(6 * 60_000)
    expect(page.locator("#alarm")).to_contain_text("Let it stand: time is up")
    page.locator("#alarm").click()
    for _ in range(3):
        page.get_by_role("button", name="Done, next").click()
    stood = float(page.get_by_label("Slip stood").input_value())
    assert stood == pytest.approx(7.0, abs=0.05)
    page.get_by_label("Wall, measured").fill("3,1")
    page.get_by_role("button", name="Finished").click()
    expect(page.locator("#title")).to_have_text("It is in the register")
    expect(page.locator("#link")).to_contain_text("to send when the network is back")
    page.context.set_offline(False)
    page.clock.run_for(16_000)
    expect(page.locator("#link")).to_be_empty()
    with studio.app.state.studio.register.reading() as db:
        casts = entering.entries(db, "casting", tumbler["mold"])
    assert [(one["wall_mm"], one["stood_min"]) for one in casts] == [(3.1, stood)]
    page.get_by_role("button", name="Once more").click()
    expect(page.locator("#title")).to_have_text("Fill with slip")


@pytest.mark.parametrize("system", ["metric", "us"])
def test_the_quick_mix_agrees_with_the_plan_side(page: Page, studio: Running, system: str) -> None:
    """What the page works out is what `claybed mix` works out, to a hundredth of a gram."""
    page.request.post(f"{studio.address}/units", form={"system": system})
    page.goto(f"{studio.address}/mix")
    per = 25.4 if system == "us" else 1.0
    sides = (200.0, 150.0, 90.0)
    for name, side in zip(("Inside length", "Inside width", "Pour height"), sides, strict=True):
        page.get_by_label(name).first.fill(repr(side / per))
    page.get_by_label("Minus an object").fill(repr(750.0 / (29.5735295625 if system == "us" else 1.0)))
    asked = mix_document(
        Space(box_mm=sides, object_ml=750.0), consistency=100.0 / 1.3, waste=0.1, form="hand", bucket_l=8.0
    )
    for key in ("water", "plaster"):
        grams = float(page.locator(f"#{key}").get_attribute("data-grams") or "nan")
        assert grams == pytest.approx(asked[f"{key}_g"], abs=0.01)
    expect(page.locator("#permm")).to_contain_text("±")
    page.get_by_label("Round").check()
    page.get_by_label("Inside diameter").fill("nonsense")
    page.get_by_label("Pour height").last.fill("3")
    expect(page.locator("#trouble")).to_be_visible()


def test_the_quick_mix_works_without_the_server(page: Page, studio: Running) -> None:
    """Opened once, the quick mix opens again with no network at all."""
    page.goto(f"{studio.address}/mix")
    page.evaluate("() => navigator.serviceWorker.ready")
    page.reload()
    page.context.set_offline(True)
    page.goto(f"{studio.address}/mix")
    page.get_by_label("Volume").check()
    page.get_by_label("Space").fill("10")
    expect(page.locator("#water")).to_contain_text("kg")
    page.context.set_offline(False)


def test_a_weighing_is_logged_and_stays(page: Page, studio: Running, tumbler: Ids) -> None:
    """A weight typed on the mold's page is in its life."""
    page.goto(f"{studio.address}/molds/{tumbler['mold']}")
    page.get_by_label("Weight").fill("1,85 kg")
    page.get_by_role("button", name="Log the weight").click()
    expect(page.get_by_text("weighed 1.850")).to_be_visible()


def test_a_tag_read_by_a_camera_opens_the_mold(page: Page, studio: Running, tumbler: Ids) -> None:
    """The printed code is decoded from its picture and leads to the mold."""
    cv2 = pytest.importorskip("cv2")
    import numpy as np

    page.goto(f"{studio.address}/molds/{tumbler['mold']}/tag")
    shot = np.array(Image.open(io.BytesIO(page.locator("#tag svg").screenshot())).convert("L"))
    text, *_ = cv2.QRCodeDetector().detectAndDecode(cv2.resize(shot, None, fx=3, fy=3))
    assert text == f"{studio.address}/molds/{tumbler['mold']}"
    page.goto(text)
    expect(page.get_by_role("heading", name="Handled cup")).to_be_visible()


def test_two_people_edit_one_mold(browser: Browser, studio: Running, tumbler: Ids) -> None:
    """The second to save is shown both, and chooses."""
    pages = [browser.new_context().new_page() for _ in range(2)]
    for page in pages:
        page.goto(f"{studio.address}/molds/{tumbler['mold']}")
    for page, place in zip(pages, ("north 2", "south 1"), strict=True):
        page.get_by_label("Place").fill(place)
        page.get_by_role("button", name="Save").click()
    expect(pages[1].get_by_role("alert")).to_contain_text("north 2")
    pages[1].get_by_role("button", name="Save").click()
    with studio.app.state.studio.register.reading() as db:
        assert keeping.one_mold(db, tumbler["mold"])["shelf"] == "south 1"
    for page in pages:
        page.context.close()


def test_over_the_network_a_device_needs_its_code(page: Page, lan: Running) -> None:
    """By the studio's network name a page asks for the code; the right one opens, a wrong one does not."""
    address = f"http://studio.local:{lan.port}"
    page.goto(address)
    expect(page.get_by_role("heading", name="This device is not let in yet")).to_be_visible()
    page.get_by_label("Code").fill("guessed")
    page.get_by_role("button", name="Come in").click()
    expect(page.get_by_role("alert")).to_contain_text("lets nobody in")
    with lan.app.state.studio.register.writing() as db:
        _, token = let_in(db, name="tablet", role="bench", now="2026-11-25T10:00:00Z")
    page.goto(f"{address}/in?token={token}")
    expect(page.get_by_role("heading", name="Objects")).to_be_visible()
    assert "token" not in page.url
    # A plain page on a network name has no service worker; the quick mix works while it is open.
    page.goto(f"{address}/mix")
    page.get_by_label("Volume").check()
    page.get_by_label("Space").fill("5")
    expect(page.locator("#plaster")).to_contain_text("kg")


PAGES = {
    "objects": "/",
    "new": "/objects/new",
    "object": "/objects/{object}",
    "plan": "/plans/{plan}",
    "cases": "/plans/{plan}/cases",
    "pour": "/pour",
    "pour-day": "/pour/{mold}",
    "shelf": "/shelf",
    "mold": "/molds/{mold}",
    "tag": "/molds/{mold}/tag",
    "cast": "/molds/{mold}/cast",
    "press": "/molds/{mold}/press",
    "cast-bench": "/pour/{mold}/cast",
    "bring": "/pour/{mold}/bring",
    "settings": "/settings",
    "register": "/register",
    "mix": "/mix",
    "trouble": "/objects/QQQQQ",
}


@pytest.mark.parametrize("name", PAGES)
def test_every_page_can_be_read_by_everyone(page: Page, studio: Running, tumbler: Ids, name: str) -> None:
    """No page breaks a rule of WCAG that axe can test, light or dark, and none is wider than a phone."""
    page.set_viewport_size(PHONE)
    page.emulate_media(color_scheme="light", reduced_motion="reduce")
    page.goto(studio.address + PAGES[name].format(**tumbler), wait_until="networkidle")
    for bench in ("light", "dark"):
        page.emulate_media(color_scheme=bench, reduced_motion="reduce")  # type: ignore[arg-type]
        found = Axe().run(page).response["violations"]
        assert [(rule["id"], [node["html"][:120] for node in rule["nodes"]]) for rule in found] == [], bench
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    # A picture that stays while the page is scrolled leaves most of the screen to what is read.
    stays = "[...document.querySelectorAll('main *')].filter(e => getComputedStyle(e).position === 'sticky')"
    tall = page.evaluate(f"Math.max(0, ...{stays}.map(e => e.offsetHeight))")
    assert tall <= 0.66 * PHONE["height"]


@pytest.mark.parametrize("name", PAGES)
def test_pages_ask_nobody_else_and_stay_small(page: Page, studio: Running, tumbler: Ids, name: str) -> None:
    """Every request goes to claybed itself; what a page loads before its mesh is under 700 kB compressed."""
    import gzip

    asked: list[str] = []
    size = 0

    def weigh(response: object) -> None:
        nonlocal size
        address = str(response.url)  # type: ignore[attr-defined]
        asked.append(address)
        if "/api/" not in address and "/files/" not in address and address.startswith("http"):
            size += len(gzip.compress(response.body(), 6))  # type: ignore[attr-defined]

    page.on("requestfinished", lambda request: weigh(request.response()))
    page.goto(studio.address + PAGES[name].format(**tumbler), wait_until="networkidle")
    assert [one for one in asked if not one.startswith((studio.address, "data:", "blob:"))] == []
    assert size < 700_000
