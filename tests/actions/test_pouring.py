"""A plan as steps for the day: in the order of work, with every weight of every batch."""

from __future__ import annotations

import copy
import re
from itertools import pairwise
from typing import Any

import pytest

from claybed.actions import pouring, ware_steps
from claybed.actions.pouring import pour_steps
from claybed.fill_line import per_mm_words
from claybed.units import say_mass
from tests.actions.planned import Planned


def steps_of(planned: Planned, *, us: bool = False) -> list[dict[str, Any]]:
    """The steps of a plan."""
    return pour_steps(planned.document, us=us)


def test_every_batch_is_weighed_sifted_slaked_mixed_and_poured(planned: Planned) -> None:
    """Each batch has its steps in that order, water before plaster, with the plan's weights."""
    steps = steps_of(planned)
    for pour in planned.document["pours"]:
        for batch in pour["batches"]:
            own = [s for s in steps if s["pour"] == pour["piece"] and s["batch"] == batch["number"]]
            names = [re.sub(r"^\w+\.|\d+$", "", s["id"]) for s in own]
            assert names == ["water", "plaster", "sift", "slake", "mix", "pour"]
            assert f"{own[0]['number']} {own[0]['unit']}" == say_mass(batch["water_g"])
            assert own[1]["ask"][0]["as_planned"] == batch["plaster_g"]
            assert all(s["minutes"] > 0 for s in own[2:5])


def test_weights_say_how_far_they_may_be_off(planned: Planned) -> None:
    """Beside water and plaster of a batch stands the pour's own plus and minus, by its share; an object
    taken at its word has none. What a millimetre of fill line takes is said once for each pour.
    """
    document = copy.deepcopy(planned.document)
    pour, figures = document["pours"][0], document["figures"]
    document["object"]["measured"] = {"band": {"smaller_share": 0.1, "larger_share": 0.1}}
    for key in ("water_g", "plaster_g"):
        figures[f"/pours/0/{key}"] |= {"low": 0.9 * pour[key], "high": 1.1 * pour[key]}
    steps = {step["id"]: step for step in pour_steps(document, us=False)}
    for batch in pour["batches"]:
        for name in ("water", "plaster"):
            off = steps[f"{pour['piece']}.{name}{batch['number']}"]["off"]
            assert off == f"± {say_mass(0.1 * batch[f'{name}_g'])}"
    said = [text for step in steps.values() if step["pour"] == pour["piece"] for text in step["says"]]
    told = [text for text in said if text.startswith("Each mm of fill line")]
    assert told == [per_mm_words([pour], us=False)]
    document["object"]["measured"] = None
    assert {step["off"] for step in pour_steps(document, us=False)} == {""}


def test_a_unit_of_two_words_stays_together() -> None:
    """Fluid ounces are a unit, and no part of them stands with the number."""
    for module in (pouring, ware_steps):
        assert module._said("14.1 fl oz") == {"number": "14.1", "unit": "fl oz"}
        assert module._said("3 lb 7.1 oz") == {"number": "3 lb 7.1", "unit": "oz"}
        assert module._said("1 7/8 in") == {"number": "1 7/8", "unit": "in"}


def test_steps_follow_the_pours(planned: Planned) -> None:
    """The bed comes first, the second pour after the first has set; no id comes twice."""
    steps = steps_of(planned)
    ids = [step["id"] for step in steps]
    assert len(set(ids)) == len(ids)
    titles = [step["title"] for step in steps]
    assert ("Build the bed" in titles) == bool(planned.document["bed"])
    if planned.document["bed"]:
        assert titles[0] == "Set the pose"
        assert titles.index("Build the bed") < titles.index("Coat with release")
    pieces = [pour["piece"] for pour in planned.document["pours"]]
    for earlier, later in pairwise(pieces):
        assert ids.index(f"{earlier}.set") < ids.index(f"{later}.water1")


def test_cautions_stand_where_the_hazard_is(planned: Planned) -> None:
    """Dust is told at the sieve, heat while it sets."""
    steps = {step["id"]: step for step in steps_of(planned)}
    piece = planned.document["pours"][0]["piece"]
    assert "dust" in steps[f"{piece}.sift1"]["caution"]
    assert re.search(r"hot|burn", steps[f"{piece}.set"]["caution"], re.IGNORECASE)


def test_us_units_reach_every_number(planned: Planned) -> None:
    """In US units no step speaks of millimetres or grams."""
    for step in steps_of(planned, us=True):
        text = " ".join([step["unit"], *step["says"], step["caution"]])
        assert not re.search(r"\d\s*(mm|kg|g|ml|l)\b", text), text


@pytest.mark.parametrize("kept", ["form", "mixing", "after", "hold"])
def test_a_plan_without_bench_figures_still_pours(planned: Planned, kept: str) -> None:
    """An older plan lacks some of the bench; what it has is told all the same."""
    document = {
        **planned.document,
        "pours": [{k: v for k, v in p.items() if k != kept} for p in planned.document["pours"]],
    }
    assert any(step["title"].startswith("Weigh the water") for step in pour_steps(document, us=False))
