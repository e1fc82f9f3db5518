"""The object and the mold in 3D in a real browser: what is painted, what is lit, what is shown."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Locator, Page, Route, expect

from claybed.actions.asking import keep_out
from claybed.records.brief import KeepOutSpot
from claybed.register import keeping
from tests.journeys.running_app import Running
from tests.journeys.test_app_in_browser import PHONE, Ids, complaints


def picture_of(stage: Locator) -> bytes:
    """The picture of a stage, once what was asked to be drawn has been."""
    stage.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    return stage.screenshot()


def test_checks_and_walls_are_lit_in_the_picture(page: Page, studio: Running, tumbler: Ids) -> None:
    """A tap on a check lights its place in 3D; the plaster's wall and the bed's heights can be shown."""
    said = complaints(page)
    page.goto(f"{studio.address}/plans/{tumbler['plan']}")
    page.wait_for_selector("#view[data-ready]")
    document = studio.app.state.studio.document
    with studio.app.state.studio.register.reading() as db:
        plan = document(keeping.one_plan(db, tumbler["plan"]))
    wall = next(check for check in plan["checks"] if check["id"] == "wall")
    view = page.frame_locator("#view")
    expect(view.get_by_role("status")).to_be_hidden()
    page.locator("#checks summary").click()
    page.locator("#checks li", has_text="Plaster is thick enough").get_by_role("button").press("Enter")
    expect(view.get_by_role("status")).to_contain_text("Plaster is thick enough")
    lit = str(view.locator("#stage").get_attribute("data-lit"))
    assert [float(v) for v in lit.split(",")] == pytest.approx(wall["at_mm"])
    view.get_by_role("button", name="Clear the mark").click()
    expect(view.get_by_role("status")).to_be_hidden()
    before = picture_of(view.locator("#stage"))
    page.get_by_role("button", name="Show the plaster’s wall in the picture").press("Enter")
    expect(view.locator("#wall-legend")).to_be_visible()
    shown = picture_of(view.locator("#stage"))
    assert shown != before
    # By key: the picture scrolls to what was shown before, and a click may come down beside the box.
    view.get_by_label("bed heights").press("Space")
    expect(view.get_by_label("bed heights")).to_be_checked()
    expect(view.locator("#heights-legend")).to_contain_text("above the board")
    assert picture_of(view.locator("#stage")) != shown
    assert said == []


def painted(page: Page) -> list[KeepOutSpot]:
    """The spots that the plan's form would send."""
    texts = [str(one.get_attribute("value")) for one in page.locator("#spots input").all()]
    regions = [keep_out(text, where="the brush") for text in texts]
    return [one for one in regions if isinstance(one, KeepOutSpot)]


def test_where_no_seam_may_run_is_painted(page: Page, studio: Running, tumbler: Ids) -> None:
    """Pointer and keys paint balls on the object for the plan; undo and clear work, a reload keeps it."""
    said = complaints(page)
    page.goto(f"{studio.address}/objects/{tumbler['object']}")
    page.wait_for_selector("#stage[data-shown]")
    canvas = page.locator("#stage canvas")
    before = picture_of(canvas)
    page.get_by_role("button", name="Paint where no seam may run").click()
    box = canvas.bounding_box()
    assert box is not None
    x, y = box["x"] + 0.5 * box["width"], box["y"] + 0.5 * box["height"]
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 40, y + 30, steps=4)
    page.mouse.up()
    stroke = painted(page)
    assert len(stroke) > 1
    extent = page.evaluate("() => window.claybedReach()")
    for spot in stroke:  # on the object, and as wide as the brush says
        assert all(
            low - 0.1 <= v <= high + 0.1 for v, (low, high) in zip(spot.centre_mm, extent, strict=True)
        )
    assert picture_of(canvas) != before
    expect(page.locator("#brush-says")).to_contain_text("painted")
    canvas.focus()
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Enter")
    assert len(painted(page)) == len(stroke) + 1
    page.reload()
    page.wait_for_selector("#stage[data-shown]")
    assert len(painted(page)) == len(stroke) + 1
    page.get_by_role("button", name="Paint where no seam may run").click()
    page.get_by_role("button", name="Undo").click()
    assert painted(page) == stroke
    page.get_by_role("button", name="Clear").click()
    assert painted(page) == []
    assert said == []


def test_a_brush_moved_by_keys_alone(page: Page, studio: Running, tumbler: Ids) -> None:
    """Arrows move the cross and Enter paints where it stands; Shift and arrows turn the object instead, and
    Backspace takes the last stroke back, one at a time.
    """
    page.goto(f"{studio.address}/objects/{tumbler['object']}")
    page.wait_for_selector("#stage[data-shown]")
    brush = page.get_by_role("button", name="Paint where no seam may run")
    brush.focus()
    page.keyboard.press("Enter")
    expect(brush).to_have_attribute("aria-pressed", "true")
    page.locator("#stage canvas").focus()
    page.keyboard.press("Enter")
    first = painted(page)
    assert len(first) == 1
    for _ in range(4):
        page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    both = painted(page)
    assert both[0] == first[0]
    assert both[1].centre_mm != first[0].centre_mm
    page.keyboard.press("Shift+ArrowRight")
    assert painted(page) == both
    page.keyboard.press("Backspace")
    assert painted(page) == first
    page.keyboard.press("Backspace")
    assert painted(page) == []
    expect(page.get_by_role("button", name="Undo")).to_be_disabled()


def test_a_finger_paints_on_a_phone(browser: Browser, studio: Running, tumbler: Ids) -> None:
    """A finger that moves over the object paints along its way, and the page stays where it is.

    Buttons are pressed by pointer: where taps follow one another closely the browser makes a click of them or
    of none, by its clock. Their style keeps it from waiting for a second tap.
    """
    context = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True)
    page = context.new_page()
    said = complaints(page)
    page.goto(f"{studio.address}/objects/{tumbler['object']}")
    page.wait_for_selector("#stage[data-shown]")
    page.evaluate("window.addEventListener('pointerdown', (event) => { window.kind = event.pointerType; })")
    page.get_by_role("button", name="Paint where no seam may run").click()
    canvas = page.locator("#stage canvas")
    canvas.scroll_into_view_if_needed()
    box, stood = canvas.bounding_box(), page.evaluate("window.scrollY")
    assert box is not None
    x, y = box["x"] + 0.5 * box["width"], box["y"] + 0.5 * box["height"]
    touch = context.new_cdp_session(page)
    for kind, dy in (
        ("touchStart", 0),
        ("touchMove", 14),
        ("touchMove", 28),
        ("touchMove", 42),
        ("touchEnd", 0),
    ):
        points = [] if kind == "touchEnd" else [{"x": x, "y": y + dy}]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
    expect(page.locator("#spots input")).not_to_have_count(0)
    assert page.evaluate("window.kind") == "touch"
    assert len(painted(page)) > 1
    assert page.evaluate("window.scrollY") == stood
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    undo = page.get_by_role("button", name="Undo")
    expect(undo).to_have_css("touch-action", "manipulation")
    undo.click()
    expect(page.locator("#spots input")).to_have_count(0)
    assert said == []
    context.close()


def test_another_block_is_told_while_the_slider_moves(page: Page, studio: Running, tumbler: Ids) -> None:
    """At the wall as planned the block's plaster is that of the pieces; a thicker wall takes more, and can be
    planned so.
    """
    said = complaints(page)
    with studio.app.state.studio.register.reading() as db:
        plan = studio.app.state.studio.document(keeping.one_plan(db, tumbler["plan"]))
    mold = plan["mold"]
    query = f"wall_mm={mold['wall_mm']}&shape={mold['shape']}&ratio=1.3&waste=10"
    told = page.request.get(
        f"{studio.address}/api/plans/{tumbler['plan']}/block?{query}", timeout=240_000
    ).json()
    assert told["plaster_ml"] == pytest.approx(sum(piece["volume_ml"] for piece in plan["pieces"]), rel=1e-6)
    assert told["outer_mm"] == pytest.approx(mold["outer_mm"])
    ready = page.request.get(f"{studio.address}/api/plans/{tumbler['plan']}/block/ready").json()
    assert ready == {"ready": True, "says": "", "done": 1.0}
    page.goto(f"{studio.address}/plans/{tumbler['plan']}")
    button = page.get_by_role("button", name="Plan it so")
    expect(button).to_be_disabled()
    held: list[Route] = []
    far = {"ready": False, "says": "cutting the mold", "done": 0.4}
    page.route("**/block?*", lambda route: held.append(route))
    page.route("**/block/ready", lambda route: route.fulfill(json=far))
    page.locator("#w-wall").fill("60")
    expect(page.locator("#what-block-says")).to_contain_text("anew, once: cutting the mold, 40 %")
    page.unroute("**/block?*")
    held[0].continue_()
    expect(page.locator("#what-block-says")).to_contain_text("All pours:")
    page.wait_for_function("() => document.getElementById('what-block').dataset.shown?.startsWith('60/')")
    expect(button).to_be_enabled()
    assert page.locator("#again [name=wall_mm]").input_value() == "60mm"
    assert page.locator("#again [name=consistency]").input_value() == ""
    thicker = page.request.get(
        f"{studio.address}/api/plans/{tumbler['plan']}/block?{query.replace(str(mold['wall_mm']), '60.0')}"
    ).json()
    assert thicker["plaster_ml"] > told["plaster_ml"]
    assert thicker["plaster_g"] / thicker["water_g"] == pytest.approx(1.3)
    assert said == []
