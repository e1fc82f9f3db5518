"""Forms in a real browser: what is refused is told beside its field, and nothing that was typed is lost."""

from __future__ import annotations

import re

from playwright.sync_api import Page, Route, expect

from claybed.register import entering, keeping
from tests.journeys.running_app import Running


def test_a_refused_form_keeps_what_was_typed(page: Page, studio: Running) -> None:
    """A weight that is none is told beside its field, which has the focus; with the studio machine away
    nothing is lost; once it is back one weighing is kept, and work under way is said once a phase.
    """
    register = studio.app.state.studio.register
    with register.writing() as db:
        pieces = [{"letter": "A", "volume_ml": 2100.0, "wet_g": 3255.0}]
        mold = keeping.add_mold(
            db, name="Small bowl", plan_id=None, pieces=pieces, now="2026-11-25T10:00:00Z"
        )
    page.goto(f"{studio.address}/molds/{mold}")
    weight, button = page.get_by_label("Weight").first, page.get_by_role("button", name="Log the weight")
    page.get_by_label("Note rinsed").fill("on the old scale")
    weight.fill("heavy")
    button.click()
    expect(page.get_by_role("alert")).to_contain_text("“heavy” is not a mass")
    expect(weight).to_be_focused()
    expect(weight).to_have_attribute("aria-invalid", "true")
    expect(weight).to_have_accessible_description(re.compile("“heavy” is not a mass"))
    weight.fill("3.2 kg")
    expect(page.get_by_role("alert")).to_have_count(0)
    expect(weight).not_to_have_attribute("aria-invalid", "true")
    page.route("**/log", lambda route: route.abort())
    button.click()
    expect(page.get_by_role("alert")).to_contain_text("The studio machine does not answer")
    expect(weight).to_have_value("3.2 kg")
    page.unroute("**/log")
    button.click()
    expect(page.get_by_text("A weighed 3.200 kg")).to_be_visible()
    with register.reading() as db:
        kept = entering.entries(db, "weighing", mold)
    assert [(one["mass_g"], one["note"]) for one in kept] == [(3200.0, "on the old scale")]
    expect(weight).to_have_value("")


def test_work_is_said_once_for_each_phase(page: Page, studio: Running) -> None:
    """The words of a job come to the page's status once each, though it is asked for again and again, and the
    button that stops it keeps the focus.
    """
    phases = ["reading the file"] * 2 + ["cutting the mold"] * 3 + ["writing"] * 2
    parts = [
        f'<div class="job" data-said="Planning: {words}" hx-get="/next" hx-trigger="load delay:50ms" '
        'hx-swap="outerHTML"><button id="stop-1">Stop</button></div>'
        for words in phases
    ]
    begin = parts[0]

    def answer(route: Route) -> None:
        route.fulfill(body=parts.pop(0) if len(parts) > 1 else parts[0], content_type="text/html")

    page.route("**/next", answer)
    page.goto(f"{studio.address}/settings")
    page.evaluate(
        """(begin) => {
          window.said = [];
          new MutationObserver(() => said.push(document.getElementById('said').textContent))
            .observe(document.getElementById('said'), {childList: true});
          document.querySelector('main').insertAdjacentHTML('beforeend', begin);
          document.getElementById('stop-1').focus();
          htmx.process(document.querySelector('main .job'));
        }""",
        begin,
    )
    page.wait_for_function("() => said.includes('Planning: writing')")
    assert page.evaluate("said") == [f"Planning: {words}" for words in dict.fromkeys(phases)]
    expect(page.locator("#stop-1")).to_be_focused()
