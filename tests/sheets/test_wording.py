"""The words of paper and page: units in either system, checks gathered by kind, places that get a number."""

import numpy as np
import pytest

from claybed import wording
from claybed.geometry.mesh import Mesh, Origin
from claybed.scene.smoothing import crease_edges
from claybed.sheets import pictures, viewpoint
from claybed.sheets.places import numbered


@pytest.mark.parametrize(
    ("says", "in_us"),
    [
        ("It is 50.8 mm wide, 2 l and 16 kg.", "It is 2 in wide, 2.11 qt and 35 lb 4.4 oz."),
        ("Ask for --wall 30mm.", "Ask for --wall 30mm."),
        ("overlaps up to 1e-06 mm", "overlaps up to 1e-06 mm"),
        ("off by 0.0005 mm", "off by 0.0005 mm"),
        ("3 mm² and 4 mm³", "3 mm² and 4 mm³"),
        ("56.7 g of clay", "2.00 oz of clay"),
        ("a hole (near 2.5, -127, 254 mm)", "a hole (near 0.1, -5.0, 10.0 in)"),
        ("Under 0.1 ml of clay", "Under 0.01 fl oz of clay"),
        ("about 0.1 ml of clay", "under 0.01 fl oz of clay"),
        ("under 0.1 ml (under 1 g) of clay", "under 0.01 fl oz (under 0.05 oz) of clay"),
        ("Set 50.8 × 76.2 mm inside, at 20 °C.", "Set 2 × 3 in inside, at 68 °F."),
        ("Use 15 to 25 °C, 1 to 2 l.", "Use 59 to 77 °F, 1.06 qt to 2.11 qt."),
        ("cut to 25.4 mm × 127 mm", "cut to 1 in × 5 in"),
    ],
)
def test_sentences_change_their_units_and_nothing_else(says: str, in_us: str) -> None:
    """Lengths, volumes and masses are turned; options, powers of ten, areas and metric sheets stay."""
    assert wording.in_system(says, us=True) == in_us
    assert wording.in_system(says, us=False) == says


@pytest.mark.parametrize(
    ("says", "in_us"),
    [
        ("recesses of 25 × 8 × 3 mm", "recesses of 1 × 5/16 × 1/8 in"),
        ("Turn it over (7.3 kg with clay)", "Turn it over (16 lb with clay)"),
        ("4.082 kg of plaster", "9 lb 0.0 oz of plaster"),
        ("1.6 mm off", "1/16 in off"),
        ("1.2 mm off", "0.047 in off"),
    ],
)
def test_the_bench_reads_an_inch_rule_and_lifts_in_half_pounds(says: str, in_us: str) -> None:
    """What a rule shows is told in fractions, a rough weight in half pounds, what is weighed out exactly."""
    assert wording.in_system(says, us=True) == in_us
    assert wording.in_system(says, us=False) == says


@pytest.mark.parametrize(
    ("off_mm", "in_us"),
    [(25.0, "15/16 in"), (2.0, "1/16 in"), (1.2, "1/32 in"), (0.5, "1/64 in"), (0.3, "less than 1/64 in")],
)
def test_what_may_be_off_is_told_by_a_mark_of_the_rule_that_is_not_over_it(off_mm: float, in_us: str) -> None:
    """The inch is 25.4 mm by definition."""
    assert wording.inches_at_most(off_mm) == in_us


@pytest.mark.parametrize(
    ("grams", "metric", "us"),
    [(435.0, "435 g", "1 lb"), (4454.0, "4.5 kg", "10 lb"), (100.0, "100 g", "3.55 oz")],
)
def test_what_is_fetched_or_lifted_is_told_roughly(grams: float, metric: str, us: str) -> None:
    """A bed of clay is no pharmacist's weight."""
    assert wording.rough_mass(grams) == metric
    assert wording.rough_mass(grams, us=True) == us


def test_a_measured_value_has_the_unit_that_fits_its_number() -> None:
    """One body is no bodies, inches come only when asked for, and angles are the same in both systems."""
    assert wording.amount(1.0, "bodies") == (1.0, "body")
    assert wording.amount(2.0, "bodies") == (2.0, "bodies")
    assert wording.amount(25.4, "mm", us=True) == pytest.approx((1.0, "in"))
    assert wording.amount(1000.0, "kg", us=True)[0] == pytest.approx(2204.62, abs=0.01)
    assert wording.amount(45.0, "deg", us=True) == (45.0, "°")


def test_every_check_that_a_proof_makes_has_words_of_its_own() -> None:
    """None is spelled out from its id, and no two kinds share a name."""
    made = [
        "solid_closed",
        "one_body",
        "volumes_fill_block",
        "release",
        "model_leaves_last",
        "pieces_overlap",
        "keys_close_one_way",
        "wall",
        "tongue",
        "seam_angle",
        "side_seam_angle",
        "liftable",
        "model_true",
        "file_whole",
        "file_on_lattice",
    ]
    names = [wording.check_family(f"{check}_A") for check in made]
    assert len(set(names)) == len(made)
    assert all(name != wording.spelled(check) for name, check in zip(names, made, strict=True))


def test_checks_of_one_kind_say_what_they_were_made_on() -> None:
    """Subjects are named once, whether they were looked at once or twice."""
    ids = ["solid_closed_A", "solid_closed_model", "file_solid_closed_A"]
    said = [wording.check_words(check, ids) for check in ids]
    assert wording.about("Every solid is closed", said) == "piece A, the model; again in the files"


@pytest.mark.parametrize(
    ("tilt_deg", "says"), [(None, ""), (0.0, ""), (0.25, "0.25°"), (2.0, "2°"), (10.0, ""), (40.0, "")]
)
def test_levelling_is_asked_for_only_where_it_helps(tilt_deg: float | None, says: str) -> None:
    """Neither a model that no levelling frees nor one that any hand sets upright is to be levelled."""
    assert wording.tilt_words(tilt_deg) == says


def test_only_places_worth_a_fingertip_are_numbered() -> None:
    """Places under 0.01 ml get no number, the others theirs in the plan's order, and never more than six."""
    places = [{"volume_ml": v} for v in (0.5, 0.009, 0.2, 0.01, 0.0, 0.3, 0.3, 0.3, 0.3)]
    assert [p["volume_ml"] for p in numbered(places)] == [0.5, 0.2, 0.01, 0.3, 0.3, 0.3]


def test_plates_of_crowded_places_keep_clear_of_each_other() -> None:
    """Five places within two plates' width get five plates that do not overlap, all within the picture."""
    tips = np.array([[200.0 + 9.0 * k, 150.0 + 4.0 * k] for k in range(5)])
    size_px = 20
    taken: list[np.ndarray] = []
    for tip in tips:
        taken.append(pictures._free_spot(tip, taken, tips, (500, 400), size_px))
    apart = [float(np.hypot(*(a - b))) for k, a in enumerate(taken) for b in taken[:k]]
    assert min(apart) >= 2.0 * 0.74 * size_px
    assert all(22.0 <= x <= 478.0 and 22.0 <= y <= 378.0 for x, y in taken)


def test_a_model_that_lies_on_its_open_face_is_shown_from_below() -> None:
    """A rim on the board is looked at from below, a seam halfway up from above."""
    import trimesh

    made = trimesh.creation.cylinder(radius=20.0, height=40.0)
    model = Mesh.make(made.vertices, made.faces, frame="block")
    turn = np.linspace(0.0, 2.0 * np.pi, 60)
    for height_mm, below in ((-20.0, True), (0.0, False)):
        loop = np.column_stack([20.0 * np.cos(turn), 20.0 * np.sin(turn), np.full(60, height_mm)])
        assert viewpoint.open_below(model, [loop]) is below
        assert bool(viewpoint.best_for_seam(model, [loop])[2] < 0.0) is below


def test_short_steps_of_the_parting_surface_are_not_drawn() -> None:
    """A small step is left out where pieces part and drawn on the object, where it is a feature."""
    side = np.arange(121.0)
    x, y = np.meshgrid(side, side)
    z = np.zeros_like(x)
    z[60, 60] = 2.0
    points = np.column_stack([x.ravel(), y.ravel(), z.ravel()])
    at = np.arange(121 * 121).reshape(121, 121)
    quads = np.stack([at[:-1, :-1], at[:-1, 1:], at[1:, 1:], at[1:, :-1]], axis=-1).reshape(-1, 4)
    faces = np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])
    bumpy = Mesh.make(points, faces, frame="block", origin=Origin.PARTING)
    assert len(crease_edges(bumpy)) == 0
    assert len(crease_edges(Mesh.make(points, faces, frame="block", origin=Origin.OBJECT))) > 0
