"""The form of a pour: what stands there, what it bears, what it needs."""

from __future__ import annotations

import math

import pytest

from claybed.bench.density import slurry_kg_per_m3
from claybed.bench.forms import plan_form
from claybed.errors import InputError
from claybed.records.brief import Brief
from claybed.records.studio import Band, BoardSet
from tests.bench.standings import standing

LONG = BoardSet("long", 600.0, 200.0, 18.0, 4)


def test_the_balls_form_by_hand() -> None:
    """Fill line 140 mm, 85 mm of slurry, coil 4 x 206 outside + 4 x 140 = 1384 mm (our own case)."""
    form = plan_form(standing(), Brief())
    assert form.kind == "boards"
    assert form.depth_mm.number == 85.0
    assert form.coil_mm.number == 1384.0
    assert form.height_least_mm.number == 152.0
    assert (form.fill_from_board_mm.number, form.fill_from_rim_mm.number) == (140.0, 12.0)
    assert form.findings == ()
    # Without boards of its own the studio needs: inside, a neighbour and the clamp.
    assert [board.length_mm.number for board in form.boards] == [218.0, 218.0]
    assert [board.past_corner_mm.number for board in form.boards] == [30.0, 30.0]


def test_pressure_and_force_are_full_head() -> None:
    """rho g h at the foot and rho g b h² / 2 on a board; one strap a third up under 100 mm of slurry."""
    form = plan_form(standing(), Brief())
    density = slurry_kg_per_m3(100.0 / 1.3)
    assert form.base_kpa.number == pytest.approx(density * 9.80665 * 0.085 / 1000.0)
    force_N = density * 9.80665 * 0.170 * 0.085**2 / 2.0
    assert form.boards[0].force_newtons.number == pytest.approx(force_N)
    (strap,) = form.straps
    assert strap.from_board_mm.number == pytest.approx(55.0 + 85.0 / 3.0)
    assert strap.pull_newtons.number == pytest.approx(force_N / 2.0)


def test_owned_boards_stand_there() -> None:
    """The studio's boards set the rim, and what sticks out past the corner is what is left of them."""
    form = plan_form(standing(), Brief(boards=(LONG,)))
    assert {board.set for board in form.boards} == {"long"}
    assert form.fill_from_rim_mm.number == 60.0
    assert form.boards[0].past_corner_mm.number == 600.0 - 170.0 - 18.0
    assert form.findings == ()


@pytest.mark.parametrize(
    ("boards", "says"),
    [
        ((BoardSet("low", 600.0, 150.0, 18.0, 4),), "152 mm"),
        ((BoardSet("short", 200.0, 200.0, 18.0, 4),), "218 × 152 mm"),
        ((BoardSet("pair", 600.0, 200.0, 18.0, 2),), "218 × 152 mm"),
    ],
)
def test_boards_that_do_not_close_it_stop(boards: tuple[BoardSet, ...], says: str) -> None:
    """An inventory that cannot hold the pour is a stop that names the nearest boards that would."""
    (found,) = plan_form(standing(), Brief(boards=boards)).findings
    assert (found.id, found.severity) == ("boards_too_small", "stop")
    assert says in f"{found.says} {found.remedy}"


def test_a_long_thin_board_is_stiffened() -> None:
    """A board that bends past a millimetre asks for cleats, or the thickness that does without."""
    thin = BoardSet("thin", 900.0, 300.0, 12.0, 4)
    wide = standing(inside_mm=(600.0, 200.0), fill_from_board_mm=280.0, bed_level_mm=30.0)
    form = plan_form(wide, Brief(boards=(thin,)))
    assert form.boards[0].bow_mm.number > 1.0 > form.boards[1].bow_mm.number
    assert [found.id for found in form.findings] == ["board_bends"]
    assert form.stiffen.startswith("The boards along the 600 mm side bow")
    # A cleat splits the span: the bow of half of it is a sixteenth.
    halved = plan_form(standing(inside_mm=(300.0, 200.0), fill_from_board_mm=280.0, bed_level_mm=30.0),
                       Brief(boards=(thin,)))  # fmt: skip
    assert form.boards[0].bow_mm.number == pytest.approx(16.0 * halved.boards[0].bow_mm.number)
    assert len(form.straps) == 2
    total = sum(strap.pull_newtons.number for strap in form.straps)
    assert total == pytest.approx(form.boards[0].force_newtons.number / 2.0)


def test_a_round_form_takes_a_band() -> None:
    """A band goes round twice, its pull is rho g h² r / 2, its coil pi d and once its end."""
    round_ = standing(inside_mm=(170.0,), footprint_mm2=math.pi * 85.0**2)
    form = plan_form(round_, Brief(bands=(Band("tall", 1500.0, 300.0),)))
    band = form.band
    assert form.kind == "band" and band is not None and form.boards == ()
    assert band.turns_count.number == pytest.approx(1500.0 / (math.pi * 170.0))
    assert band.overlap_mm.number == pytest.approx(1500.0 - math.pi * 170.0)
    density = slurry_kg_per_m3(100.0 / 1.3)
    assert band.pull_newtons.number == pytest.approx(density * 9.80665 * 0.085**2 * 0.085 / 2.0)
    assert form.coil_mm.number == pytest.approx(math.pi * 170.0 + 85.0)
    assert form.fill_from_rim_mm.number == 160.0


def test_a_metal_band_has_edges() -> None:
    """Sheet metal is cautioned for its edges, every band for its spring."""
    round_ = standing(inside_mm=(170.0,))
    steel = plan_form(round_, Brief(bands=(Band("tin", 1500.0, 300.0, "steel"),)))
    plastic = plan_form(round_, Brief(bands=(Band("film", 1500.0, 300.0),)))
    assert (len(steel.cautions), len(plastic.cautions)) == (2, 1)
    assert "cuts" in steel.cautions[0]


def test_a_band_too_short_stops() -> None:
    """A band that does not go round twice is a stop that names the length that would."""
    (found,) = plan_form(standing(inside_mm=(300.0,)), Brief(bands=(Band("short", 1500.0, 300.0),))).findings
    assert (found.id, found.severity) == ("band_too_small", "stop")
    assert f"{math.ceil(600.0 * math.pi)} × 152 mm" in found.remedy


def test_a_line_under_the_bed_is_refused() -> None:
    """A fill line that the bed covers is no pour."""
    with pytest.raises(InputError, match="under the bed"):
        plan_form(standing(fill_from_board_mm=50.0), Brief())


def test_a_band_goes_over_the_gates_flat() -> None:
    """Around a circle with a flat of 2 h the girth is 2 pi r - 4 r atan(h / r) + 4 h, by tangents."""
    radius_mm, half_mm = 100.0, 30.0
    girth_mm = 2.0 * math.pi * radius_mm - 4.0 * radius_mm * math.atan(half_mm / radius_mm) + 4.0 * half_mm
    band = Band("tall", 1500.0, 300.0)
    flat = plan_form(
        standing(inside_mm=(200.0,), girth_mm=girth_mm, flat_mm=2.0 * half_mm), Brief(bands=(band,))
    )
    plain = plan_form(standing(inside_mm=(200.0,)), Brief(bands=(band,)))
    assert flat.band is not None and plain.band is not None
    assert flat.band.turns_count.number == pytest.approx(1500.0 / girth_mm)
    assert flat.coil_mm.number - plain.coil_mm.number == pytest.approx(girth_mm - math.pi * 200.0)
    assert "60 mm wide" in flat.how and "strip" not in plain.how
