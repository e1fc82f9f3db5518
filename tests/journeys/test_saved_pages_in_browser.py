"""Pour day from one saved file: no server, no network, and what was typed reaches the register once."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from claybed.register import entering, keeping
from tests.journeys.running_app import Running
from tests.journeys.test_app_in_browser import PHONE, Ids, complaints


def saved(page: Page, studio: Running, address: str, folder: Path) -> Path:
    """The page at an address, saved by its own link."""
    page.goto(f"{studio.address}{address}")
    with page.expect_download() as waited:
        page.get_by_role("link", name="Save this page as one file").click()
    assert waited.value.suggested_filename.endswith(".html")
    path = folder / "saved page.html"
    waited.value.save_as(path)
    return path


def poured(studio: Running, mold: str) -> list[dict[str, object]]:
    """Every pour in the register."""
    with studio.app.state.studio.register.reading() as db:
        return [dict(one) for one in entering.entries(db, "pour", mold)]


def test_a_saved_page_pours_without_a_server(
    page: Page, browser: Browser, studio: Running, tumbler: Ids, tmp_path: Path
) -> None:
    """From file:// it keeps step, timer and values through a reload; brought in twice, each is kept once."""
    with studio.app.state.studio.register.writing() as db:
        pieces = keeping.one_plan(db, tumbler["plan"])["summary"]["pieces"]
        mold = keeping.add_mold(
            db, name="A cup of its own", plan_id=tumbler["plan"], pieces=pieces, now="2026-11-25T10:00:00Z"
        )
    file = saved(page, studio, f"/pour/{mold}", tmp_path)
    context = browser.new_context(viewport=PHONE, offline=True)
    alone = context.new_page()
    said = complaints(alone)
    asked: list[str] = []
    alone.on("request", lambda request: asked.append(request.url))
    alone.clock.install()
    alone.goto(file.as_uri())
    while not alone.locator("#title").inner_text().startswith("Sift"):
        for box in alone.locator("#ask input").all():
            box.fill("20" if "_c" in str(box.get_attribute("id")) else "1111")
        alone.get_by_role("button", name="Done, next").click()
    alone.get_by_role("button", name="Start", exact=True).click()
    ends = "Object.values(JSON.parse(localStorage.getItem(localStorage.key(0))).ends).map((one) => one.at)"
    before = alone.evaluate(ends)
    assert len(before) == 1
    alone.clock.fast_forward(30_000)
    alone.reload()
    # The moment at which it ends is what lasts: what the clock shows goes on while a test looks at it.
    assert alone.evaluate(ends) == before
    expect(alone.locator("#start")).to_have_text("Start again")
    alone.clock.fast_forward(200_000)
    expect(alone.locator("#alarm")).to_contain_text("time is up")
    alone.locator("#alarm").click()
    while not alone.locator("#title").inner_text().startswith("Let it set"):
        alone.get_by_role("button", name="Done, next").click()
    alone.get_by_role("button", name="It is set").click()
    alone.get_by_role("button", name="Done, next").click()
    expect(alone.locator("#bringing")).to_contain_text("not yet in the register")
    assert alone.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    address = str(alone.get_by_role("link", name="Bring it to the register").get_attribute("href"))
    assert address.startswith(f"{studio.address}/pour/{mold}/bring#")
    with alone.expect_download() as waited:
        alone.get_by_role("button", name="Write it to a file").click()
    waited.value.save_as(tmp_path / "entries.json")
    assert [one for one in asked if not one.startswith(("file:", "data:", "blob:"))] == []
    assert said == []

    page.goto(address)
    expect(page.get_by_role("row")).not_to_have_count(0)
    assert poured(studio, mold) == []  # nothing is kept before somebody has seen it
    page.get_by_role("button", name="Keep it in the register").click()
    expect(page.locator("#bring-says")).to_contain_text("in the register")
    kept = poured(studio, mold)
    assert len(kept) > 1
    assert 1111.0 in [one["water_g"] for one in kept]
    page.goto(f"{studio.address}/pour/{mold}/bring")
    page.get_by_label("File of entries").set_input_files(tmp_path / "entries.json")
    page.get_by_role("button", name="Keep it in the register").click()
    expect(page.locator("#bring-says")).to_contain_text("in the register")
    assert len(poured(studio, mold)) == len(kept)

    alone.get_by_role("button", name="It is kept: forget it here").click()
    expect(alone.locator("#bringing")).to_be_hidden()
    context.close()


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[]",
        '{"claybed":"entries","kind":"devices","mold":"X","entries":[]}',
        "<script>alert(1)</script>",
    ],
)
def test_what_no_saved_page_wrote_is_refused(page: Page, studio: Running, tumbler: Ids, text: str) -> None:
    """A file of anything else says so, offers nothing to keep and runs nothing."""
    said = complaints(page)
    page.goto(f"{studio.address}/pour/{tumbler['mold']}/bring")
    page.get_by_label("File of entries").set_input_files(
        {"name": "a.json", "mimeType": "application/json", "buffer": text.encode()}
    )
    expect(page.locator("#bring-says")).to_contain_text("Nothing was kept")
    expect(page.get_by_role("button", name="Keep it in the register")).to_be_hidden()
    assert said == []


def test_entries_of_another_mold_are_not_kept_here(page: Page, studio: Running, tumbler: Ids) -> None:
    """What was typed for one mold cannot slip into the record of another."""
    text = json.dumps({"claybed": "entries", "kind": "pours", "mold": "ZZZZZ", "entries": []})
    page.goto(f"{studio.address}/pour/{tumbler['mold']}/bring")
    page.get_by_label("File of entries").set_input_files(
        {"name": "a.json", "mimeType": "application/json", "buffer": text.encode()}
    )
    expect(page.locator("#bring-says")).to_contain_text("another mold, ZZZZZ")
