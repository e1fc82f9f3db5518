"""What is handed to the typesetter, value by value."""

import json
from datetime import date

import pytest
from specimen import plan

from claybed import wording
from claybed.sheets.check_lines import scientific
from claybed.sheets.places import without_axes
from claybed.sheets.sheet_data import ruler, sheet_values, written


def values(**more: bool) -> dict:
    """The sheet's values for the specimen's plan."""
    return sheet_values(
        plan(ready=more.pop("ready", True)), made_on=date(2026, 3, 14), version="9", pictures=["seam"], **more
    )


def test_a_pour_is_handed_over_exactly() -> None:
    """The second pour of the specimen, written out in full."""
    assert values()["pours"][1] == {
        "number": "2",
        "piece": "B",
        "water": [["1.335", "kg"]],
        "plaster": [["1.735", "kg"]],
        "beside": "",
        "spread": "",
        "keys": {"water": "", "plaster": "", "line": ""},
        "space": [["1.80", "l"]],
        "slurry": [["1.98", "l"]],
        "from_board": [["130", "mm"]],
        "from_rim": [["12", "mm"]],
        "allowed": "With 10 % over: a form built by hand is never quite to size.",
        "per_mm": ["23.4 g", "30.4 g"],
        "step": "millimetre",
        "rule_water": [["1.800", "kg"]],
        "rule_plaster": [["2.340", "kg"]],
        "batches": [
            {"number": "1", "water": [["668", "g"]], "plaster": [["868", "g"]], "slurry": [["991", "ml"]]},
            {"number": "2", "water": [["668", "g"]], "plaster": [["868", "g"]], "slurry": [["991", "ml"]]},
        ],
    }


def test_pieces_fill_and_facts_are_handed_over_exactly() -> None:
    """Piece A, the clay for each place and the facts beside the picture."""
    got = values()
    assert got["pieces"][0] == {
        "id": "A",
        "order": "1",
        "pour": "1",
        "pull": "straight down",
        "volume": [["1.81", "l"]],
        "wet": [["2.865", "kg"]],
        "dry": [["1.920", "kg"]],
        "keys": "",
        "file": "pieces/A.stl",
    }
    assert got["fill"]["total"] == [["9.6", "g"]]
    assert [p["clay"] for p in got["fill"]["places"]] == [[["8.9", "g"]], [["0.8", "g"]]]
    assert [p["act"] for p in got["fill"]["places"]] == ["close with oil clay", "scrape or soften"]
    facts = dict(got["facts"])
    assert facts["Form inside"] == [["210 × 150", "mm"]]
    assert facts["Closed mold, height"] == [["130", "mm"]]
    assert facts["Keys"] == [["4, Ø 20 × 7", "mm"]]
    assert facts["Seam, all round"] == [["419", "mm"]]


def test_the_clay_of_the_places_adds_up_to_the_whole() -> None:
    """Grams per place come from the same density as the total."""
    asked = plan()["survey"]
    density = asked["fill_g"] / asked["fill_ml"]
    assert sum(p["volume_ml"] for p in asked["fill_places"]) * density == pytest.approx(asked["fill_g"])


def test_us_units_come_with_the_grams_beside() -> None:
    """Pounds lead, and the grams that the plan and its log hold stand beside them."""
    pour = values(us_units=True)["pours"][0]
    assert pour["water"] == [["2", "lb"], ["15.2", "oz"]]
    assert pour["beside"] == "1.340 kg water, 1.740 kg plaster"
    assert pour["from_board"] == [["4 3/8", "in"]]


def test_a_ruler_reads_whole_millimetres_and_fractions() -> None:
    """Lengths to be laid with a ruler go to what a ruler shows."""
    assert [ruler(v, False) for v in (0.4, 12.5, 118.7)] == ["0 mm", "12 mm", "119 mm"]
    assert [ruler(v, True) for v in (0.0, 12.0, 25.4, 111.0, 1.6)] == [
        "0 in",
        "15/32 in",
        "1 in",
        "4 3/8 in",
        "1/16 in",
    ]


def test_figures_are_split_from_their_units() -> None:
    """Units are set smaller, so they come apart; words without a unit stay whole."""
    assert written("2 lb 15.3 oz") == [["2", "lb"], ["15.3", "oz"]]
    assert written("15.3 fl oz") == [["15.3", "fl oz"]]
    assert written("under 1 g") == [["under 1", "g"]]
    assert written("flat, so the bed is level") == [["flat, so the bed is level", ""]]


def test_measured_values_keep_three_figures() -> None:
    """Very small numbers get a power of ten instead of a row of noughts, and nothing is invented for nan."""
    assert scientific(0.0) == {"n": "0", "e": ""}
    assert scientific(35.2) == {"n": "35.2", "e": ""}
    assert scientific(1234.56) == {"n": "1235", "e": ""}
    assert scientific(2e-10) == {"n": "2", "e": "−10"}
    assert scientific(float("nan"))["n"] == "not measured"


def test_reasons_name_every_failed_check_and_stop() -> None:
    """A failed check and a stopping finding both end up among the reasons, with measure, limit and remedy."""
    asked = plan(ready=False)
    asked["findings"].append(
        {
            "id": "x",
            "severity": "stop",
            "where": "",
            "says": "The file is open.",
            "remedy": "Mend it.",
            "amount": None,
            "at_mm": None,
        }
    )
    got = sheet_values(asked, made_on=date(2026, 3, 14), version="9", pictures=[])
    assert got["stops"] == [
        "Weight to lift, piece B: 31 kg, at most 16 kg. Split it, or plan two people.",
        "The file is open. Mend it.",
    ]
    assert got["findings"][0]["severity"] == "stop"
    assert values()["stops"] == []


def test_values_are_plain_json() -> None:
    """The typesetter gets data only."""
    assert json.loads(json.dumps(values())) == values()


def test_checks_never_read_alike() -> None:
    """Checks of one family are told apart by what they are about; an unknown id is spelled out."""
    ids = [
        "release_A",
        "release_B",
        "file_release_A",
        "solid_closed_model",
        "solid_closed_A",
        "lift.wet_kg",
        "odd_new_mm",
    ]
    said = [wording.check_words(i, ids) for i in ids]
    assert said == [
        "Pieces leave along their pulls: piece A",
        "Pieces leave along their pulls: piece B",
        "Pieces leave along their pulls, in the files: piece A",
        "Every solid is closed: the model",
        "Every solid is closed: piece A",
        "Weight to lift",
        "Odd new",
    ]


def test_page_one_sums_up_what_holds_and_never_what_fails() -> None:
    """Checks that hold are gathered by family with their count; each that fails keeps its own line, first."""
    asked = plan(ready=False)
    like = asked["checks"][0]
    asked["checks"] = [
        {**like, "id": "solid_closed_A"},
        {**like, "id": "file_solid_closed_A"},
        {**like, "id": "release_A", "ok": False, "measured": 1.5},
        {**like, "id": "release_B", "ok": False, "measured": 2.5},
        {**like, "id": "pieces_overlap"},
    ]
    lines = sheet_values(asked, made_on=date(2026, 3, 14), version="9", pictures=[])["in_short"]
    assert [(line["ok"], line["words"], line["count"]) for line in lines] == [
        (False, "Pieces leave along their pulls: piece A", 1),
        (False, "Pieces leave along their pulls: piece B", 1),
        (True, "Every solid is closed", 2),
        (True, "Pieces do not overlap", 1),
    ]


def test_a_gate_without_a_bore_and_no_gate_are_both_said_rightly() -> None:
    """A mouth that is not round prints no invented diameter, and a mold without a gate prints none at all."""
    asked = plan()
    asked["mold"]["gate"] = {"kind": "mouth", "bore_mm": None, "closes_at_wall_mm": None, "spare_ml": 0.0}
    facts = dict(sheet_values(asked, made_on=date(2026, 3, 14), version="9", pictures=[])["facts"])
    assert facts["Gate, mouth"] == [["as the object", ""]]
    asked["mold"]["gate"]["kind"] = "none"
    assert not [
        k
        for k in dict(sheet_values(asked, made_on=date(2026, 3, 14), version="9", pictures=[])["facts"])
        if "Gate" in k
    ]


@pytest.mark.parametrize(
    ("pull", "says"),
    [
        ((0, 0, 2), "straight up"),
        ((0, 0, -1), "straight down"),
        ((1, 0, 0), "to the right"),
        ((-1, 0, 0), "to the left"),
        ((0, 1, 0), "to the back"),
        ((0, -1, 0), "to the front"),
        ((1, 0, 1), "to the right, 45° up"),
        ((1, 1, 0), "to the back right"),
        ((2, 1, 0), "27° round from the right"),
        ((-1, -1, -1), "to the front left, 35° down"),
        ((0, 0, 0), "not given"),
    ],
)
def test_pulls_are_said_in_words(pull: tuple[float, float, float], says: str) -> None:
    """A bench has no vectors."""
    assert wording.pull_words(pull) == says


def test_what_the_object_leaves_open_is_on_the_sheet() -> None:
    """Weights that the object's volume makes uncertain are printed with how far they may be off."""
    known = plan()
    figures = {
        f"/pours/{k}/{key}": {"low": pour[key] - 40.0, "high": pour[key] + 40.0}
        for k, pour in enumerate(known["pours"])
        for key in ("water_g", "plaster_g")
    }
    how = {"says": "Turned from readings.", "band": {"smaller_share": 0.03, "larger_share": 0.03}}
    unsure = known | {"object": known["object"] | {"measured": how}, "figures": figures}
    handed = sheet_values(unsure, made_on=date(2026, 3, 14), version="9", pictures=[])
    assert (
        handed["pours"][0]["spread"]
        == "Water ± 40 g, plaster ± 40 g, as well as object and plaster are known."
    )
    assert "Turned from readings." in handed["object"]["says"]


@pytest.mark.parametrize(
    ("where", "left"),
    [
        ("in the middle of its height, towards +x", "in the middle of its height"),
        ("at its top, towards −y, left", "at its top, left"),
        (
            "piece A, left of the block, 104 mm above the foot of the closed block",
            "piece A, left of the block, 104 mm above the foot of the closed block",
        ),
    ],
)
def test_no_axis_of_a_file_stands_on_paper(where: str, left: str) -> None:
    """What a person at the bench cannot see is left out of a place, the rest stays."""
    assert without_axes(where) == left
