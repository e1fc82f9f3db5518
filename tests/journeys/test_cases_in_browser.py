"""Cases to print, from the page of a mold: asked for, made, looked at, fetched."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import trimesh
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from tests.journeys.running_app import Running
from tests.journeys.test_app_in_browser import PHONE, Ids, complaints


def test_cases_are_made_from_the_page_of_a_mold(page: Page, studio: Running, tumbler: Ids) -> None:
    """What no printer has is refused at once; what can be made is told with weights, working, checks and
    cautions, its parts are closed solids that fit the printer, and anyone can read the page.
    """
    said = complaints(page)
    page.goto(f"{studio.address}/plans/{tumbler['plan']}")
    page.get_by_role("link", name="Cases to print").click()
    at = f"{studio.address}/plans/{tumbler['plan']}/cases"
    refused = page.request.post(at, form={"printer": "5 x 5 x 5 mm"}, max_redirects=0)
    assert refused.status == 400
    assert "is no side of a printer’s room" in refused.text()
    page.get_by_label("Room of your printer").fill("180 x 180 x 180 mm")
    page.get_by_label("Plastic").select_option("petg")
    page.get_by_label("Which piece").select_option("A")
    page.get_by_role("button", name="Make the cases").click()
    expect(page.get_by_role("heading", name="A printed case")).to_be_visible(timeout=240_000)
    expect(page.locator("main")).to_contain_text("of PETG")
    expect(page.get_by_role("heading", name="Take care")).to_be_visible()
    page.get_by_role("definition").first.get_by_role("button").click()
    expect(page.locator("#working")).to_contain_text("plaster x consistency")
    links = page.get_by_role("link", name="STL").all()
    assert links
    for link in links:
        answer = page.request.get(studio.address + str(link.get_attribute("href")))
        part = trimesh.load(BytesIO(answer.body()), file_type="stl", force="mesh")
        assert part.is_watertight
        assert max(part.extents) <= 180.0
    sheet = page.get_by_role("link", name="Sheet: how to print").get_attribute("href")
    assert page.request.get(f"{studio.address}{sheet}").body().startswith(b"%PDF")
    assert page.request.get(f"{at}/files/../../../register.sqlite").status == 404
    page.set_viewport_size(PHONE)
    for bench in ("light", "dark"):
        page.emulate_media(color_scheme=bench, reduced_motion="reduce")  # type: ignore[arg-type]
        found = Axe().run(page).response["violations"]
        assert [(rule["id"], [node["html"][:120] for node in rule["nodes"]]) for rule in found] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    kept = Path(studio.settings.data) / "plans"
    assert [one.name for one in kept.iterdir() if one.name.startswith(".")] == []
    assert said == []
