"""What the bench pages say of forms, side pieces, floating objects and the day before."""

import copy
from typing import Any

import pytest
from specimen import plan

from claybed.fill_line import down_words
from claybed.sheets.getting_ready import getting_ready
from claybed.sheets.holding_words import hold_words
from claybed.sheets.pour_pages import pour_pages
from claybed.sheets.pour_words import across, bucket_words, closed_words, kept_places
from claybed.sheets.steps import unbroken
from claybed.sheets.workings import Workings


@pytest.fixture
def three() -> dict[str, Any]:
    """The bottle with a third piece, 40 mm of the block, that leaves to the back."""
    asked = copy.deepcopy(plan())
    asked["pieces"].append(dict(asked["pieces"][1], id="C", order=1, pull=[0.0, 0.98, -0.2]))
    form = {
        "height_least_mm": 162.0,
        "inside_mm": [130.0, 210.0],
        "depth_mm": 40.0,
        "bed_level_mm": 110.0,
        "how": "Stand the boards round it.",
        "coil_mm": 960.0,
        "leaks": ["Under the boards: clay.", "Between boards and plaster: clay."],
    }
    asked["pours"].append(dict(asked["pours"][0], piece="C", form=form))
    asked["mold"]["keys"] = [{"bump_on": "C", "socket_in": "A"}, {"bump_on": "A", "socket_in": "B"}]
    return asked


def test_the_place_of_a_side_piece_is_kept_in_the_pours_before(three: dict[str, Any]) -> None:
    """The first page says where and how deep, with how many keys; the second that the board goes in again;
    without such a piece nothing is said.
    """
    first, second = (" ".join(kept_places(three, k, us=False)) for k in (0, 1))
    assert "Piece C" in first and "at the back" in first and "40 mm" in first
    assert "keys" in first and "again" in second and "40 mm" in second
    assert kept_places(plan(), 0, us=False) == []


def test_a_third_page_says_what_stands_in_its_form(three: dict[str, Any]) -> None:
    """Pieces A and B stay closed, their faces at the level of the form's record; nothing of a flip or a
    second pour is told.
    """
    says = " ".join(closed_words(three, 2, us=False))
    assert "A and B closed" in says and "110 mm" in says and "40 mm" in says
    page = pour_pages(three, Workings(three), us=False)[2]
    titles = [step["title"] for step in page["steps"]]
    assert "Tip it on its side" in titles and "Turn it over" not in titles
    assert page["facts"][0][:2] == ["Form inside", "130 × 210 mm"]


def test_nothing_rests_on_an_object_that_plaster_covers() -> None:
    """A floating object is kept down from inside or from the board; one that sinks needs nothing."""
    asked = plan()
    asked["pours"][0]["hold"] = {
        "seeping_up_g": 290.0,
        "hold_down_g": 435.0,
        "ballast": [{"what": "dry sand", "needed_ml": 181.0, "fits": None}],
    }
    says = " ".join(hold_words(asked, us=False))
    assert "290 g" in says and "181 ml" in says and "435 g" in says
    asked["pours"][0]["hold"]["ballast"] = [{"what": "dry sand", "needed_ml": 181.0, "fits": False}]
    assert "sand" not in " ".join(hold_words(asked, us=False))
    asked["object"]["floats_in_slurry"] = False
    assert hold_words(asked, us=False) == []


def test_only_what_may_need_a_screw_is_told_of_one() -> None:
    """Where it is not known whether a floating object is hollow, the second pour tells what holds it once a
    screw is out, and what to do if it rises; of one known to sink when filled no screw is told.
    """
    asked = plan()
    asked["object"]["floats_in_slurry"] = True
    sand = {"what": "dry sand", "needed_ml": 181.0, "fits": None, "says": ""}
    for pour in asked["pours"]:
        pour["hold"] = {
            "seeping_up_g": 290.0,
            "hold_down_g": 435.0,
            "sealed_down_g": 640.0,
            "room_ml": None,
            "ballast": [sand],
            "cap": "",
        }

    lifted = ["Take the form off.", "Scrape it.", "Turn it over.", "Lift the bed off.", "Carve keys."]
    asked["pours"][0]["after"] = {"steps": lifted}

    def told() -> str:
        pages = pour_pages(asked, Workings(asked), us=False)
        steps = [step for page in pages for step in page["steps"]]
        return " ".join([*hold_words(asked, us=False), *(text for one in steps for text in one["says"])])

    says = told()
    assert "If a screw holds the object" in says and "640 g" in says and "If the object rises" in says
    for pour in asked["pours"]:
        pour["hold"] |= {"room_ml": 300.0, "ballast": [sand | {"fits": True}]}
    says = told()
    assert "screw" not in says and "dry sand" in says and "thread of oil clay, flush with the face." in says


@pytest.mark.parametrize(("least_l", "told"), [(7.19, "7.5 l"), (7.5, "7.5 l"), (7.51, "8 l")])
def test_a_bucket_is_told_so_that_it_holds(least_l: float, told: str) -> None:
    """Rounded up to the next half litre, never down."""
    assert bucket_words(least_l, us=False) == told


def test_lengths_share_their_unit() -> None:
    """One unit at the end, in either system."""
    assert across((185.0, 245.0), us=False) == "185 × 245 mm"
    assert across((25.4, 50.8), us=True) == "1 × 2 in"


def test_the_day_before_is_told_with_the_words_that_are_met() -> None:
    """Templates, tools and object come first; words are explained only where the plan has the thing."""
    asked = plan()
    before = getting_ready(asked, us=False)
    titles = ["Print and cut", "Have ready", "Lay the chart", "Make the object ready"]
    assert [s["title"] for s in before["steps"]][:4] == titles
    laid = " ".join(before["steps"][1]["things"])
    for tool in ("pottery plaster, 4.0 kg", "scale", "sieve", "fitted mask", "gloves"):
        assert tool in laid
    met = {word for word, _ in before["words"]}
    assert "Slurry" in met and "Saddles" not in met
    assert "Bed" in {word for word, _ in getting_ready({**asked, "bed": {"clay_g": 1.0}}, us=False)["words"]}


@pytest.mark.parametrize(("us", "length"), [(False, "150 mm"), (True, "5.91 in (15 cm)")])
def test_the_bar_is_told_so_that_a_true_print_passes(us: bool, length: str) -> None:
    """150 mm is 5.906 in; told in sixteenths (5 7/8) a true bar would read half a per cent long."""
    page = getting_ready({**plan(), "pose": {"level": True}}, us=us)
    assert f"A ruler must read {length} on each bar" in str(page)


@pytest.mark.parametrize("us", [False, True])
def test_lines_up_and_down_add_up_to_the_rim(us: bool) -> None:
    """116.3 mm up and 43.7 down of a rim at 160: in inches 4 9/16 and 1 3/4 are the rim's 6 5/16."""
    line = {"from_board_mm": 116.3, "from_rim_mm": 43.7}
    assert down_words(line, us) == ("1 3/4 in" if us else "44 mm")
    assert unbroken("1 3/4 in of 12 mm") == "1\u00a03/4\u00a0in of 12\u00a0mm"


def test_saddles_are_told_of_only_where_there_are_some() -> None:
    """An object that lies on a pad is lifted off that, and the words explain no saddles."""
    asked = copy.deepcopy(plan())
    asked["pose"] = (asked.get("pose") or {}) | {"saddles": []}
    before = getting_ready(asked, us=False)
    words = dict(before["words"])
    assert "Saddles" not in words
    assert not any("addle" in text for text in words.values())
    assert not any("addle" in text for step in before["steps"] for text in step["says"])


def test_what_rounding_left_beside_a_length_is_nothing() -> None:
    """A place of nothing by 42 by 65 mm is told so; a small number by itself stays what it is."""
    figure = {"formula": "as placed", "source": "geometry", "unit": "mm"}
    asked = {"figures": {"/at": figure, "/share": figure}, "at": [-3.574e-15, 42.0, 65.0], "share": 2e-15}
    workings = Workings(asked)
    workings.keys(["/at"])
    workings.keys(["/share"])
    at, share = (row["value"] for row in workings.rows())
    assert at.startswith("0 × 42 × 65") and share.startswith("2e-15")
