"""What must hold of plaster whatever the ratio, the allowance and the bucket."""

from __future__ import annotations

import math

from hypothesis import given
from hypothesis import strategies as st

from claybed.physics import heat, plaster, porosity, slurry, strength
from claybed.pours.floating import judge_float
from claybed.pours.mixing import mix_for_space, slurry_g_per_ml
from claybed.pours.planning import plan_pours
from claybed.records.brief import Brief
from claybed.records.mix import Mix
from claybed.records.pour import PiecePour

ratios = st.floats(20.0, 200.0)
spaces = st.floats(1.0, 200_000.0)
wastes = st.floats(0.0, 1.0)
buckets = st.floats(0.5, 60.0)
grains = st.floats(2300.0, 2800.0)
purities = st.floats(0.5, 1.0)
CLOSE = 1e-12


def close(a: float, b: float) -> bool:
    """Equal but for the rounding of a few sums."""
    return math.isclose(a, b, rel_tol=CLOSE)


def mixed(space_ml: float, ratio: float, waste: float = 0.0, bucket_l: float = 8.0) -> Mix:
    """A mix with the usual bucket."""
    return mix_for_space(space_ml, consistency=ratio, waste=waste, bucket_l=bucket_l)


@given(spaces, ratios, wastes, buckets)
def test_mass_in_is_mass_out(space_ml: float, ratio: float, waste: float, bucket_l: float) -> None:
    """Water and plaster must weigh what their slurry weighs, and the batches what the mix weighs."""
    mix = mixed(space_ml, ratio, waste, bucket_l)
    assert close(mix.water_g + mix.plaster_g, mix.slurry_ml * slurry_g_per_ml(ratio))
    assert close(mix.water_g * 100, mix.plaster_g * ratio)
    assert close(math.fsum(batch.water_g for batch in mix.batches), mix.water_g)
    assert close(math.fsum(batch.plaster_g for batch in mix.batches), mix.plaster_g)
    assert close(math.fsum(batch.slurry_ml for batch in mix.batches), mix.slurry_ml)


@given(spaces, ratios, wastes, buckets)
def test_batches_fit_the_bucket(space_ml: float, ratio: float, waste: float, bucket_l: float) -> None:
    """Batches must be equal, fit the bucket, and be as few as can be."""
    batches = mixed(space_ml, ratio, waste, bucket_l).batches
    assert {(b.water_g, b.plaster_g, b.slurry_ml) for b in batches} == {
        (batches[0].water_g, batches[0].plaster_g, batches[0].slurry_ml)
    }
    assert [b.number for b in batches] == list(range(1, len(batches) + 1))
    assert batches[0].slurry_ml <= 1000 * bucket_l * (1 + 1e-9)
    if len(batches) > 1:
        assert batches[0].slurry_ml * len(batches) > 1000 * bucket_l * (len(batches) - 1)


@given(st.floats(20.0, 200.0), purities)
def test_setting_loses_nothing(ratio: float, purity: float) -> None:
    """Gypsum and free water must weigh what plaster and water weighed."""
    after = plaster.set_mass_per_100(purity_fraction=purity) + plaster.free_water_per_100(
        ratio, purity_fraction=purity
    )
    assert close(after, 100 + ratio)
    wet_kg = 3.7
    dry_kg = plaster.dry_from_wet_kg(wet_kg, ratio, purity_fraction=purity)
    assert 0 < dry_kg < wet_kg
    share = plaster.free_water_of_dry_fraction(ratio, purity_fraction=purity)
    assert close(dry_kg * (1 + share), wet_kg)


@given(ratios, grains, st.floats(0.0, 0.3))
def test_volumes_and_densities_agree(ratio: float, grain_kg_per_m3: float, air: float) -> None:
    """Wet and dry density must differ by the free water of the same volume, with air or without."""
    kinds = {"plaster_kg_per_m3": grain_kg_per_m3, "water_kg_per_m3": 998.0, "air_fraction": air}
    wet = slurry.slurry_density_kg_per_m3(ratio, **kinds)
    dry = slurry.dry_density_kg_per_m3(ratio, **kinds)
    assert math.isclose(wet - dry, wet * plaster.free_water_of_wet_fraction(ratio), rel_tol=1e-9)
    # the slurry lies between its two parts
    assert 998.0 * (1 - air) < wet < grain_kg_per_m3
    one_kg_m3 = slurry.slurry_volume_m3_per_kg(ratio, **kinds)
    if air == 0:
        kg = slurry.plaster_for_volume_kg(
            one_kg_m3, ratio, plaster_kg_per_m3=grain_kg_per_m3, water_kg_per_m3=998.0
        )
        assert close(kg, 1.0)


@given(st.floats(60.0, 99.0), st.floats(0.01, 1.0))
def test_more_water_makes_it_lighter_and_thirstier(ratio: float, step: float) -> None:
    """With more water slurry, dry piece, heat and strength must go down, pores and free water up."""

    def figures(w: float) -> tuple[list[float], list[float]]:
        kinds = {"plaster_kg_per_m3": 2700.0, "water_kg_per_m3": 998.0}
        dry = slurry.dry_density_kg_per_m3(w, **kinds)
        falling = [
            slurry.slurry_density_kg_per_m3(w, **kinds),
            dry,
            strength.dry_strength_Pa(w),
            heat.adiabatic_rise_K(w, heat_J_per_kg=125e3, gypsum_J_per_kg_K=1080.0, water_J_per_kg_K=4186.0),
            mixed(1000.0, w).plaster_g,
        ]
        rising = [
            porosity.porosity_fraction(dry, gypsum_kg_per_m3=2320.0),
            plaster.free_water_of_wet_fraction(w),
            plaster.free_water_of_dry_fraction(w),
            mixed(1000.0, w).water_g,
        ]
        return falling, rising

    (down, up), (down_wetter, up_wetter) = figures(ratio), figures(ratio + step)
    assert all(wetter < drier for drier, wetter in zip(down, down_wetter, strict=True))
    assert all(wetter > drier for drier, wetter in zip(up, up_wetter, strict=True))


@given(st.floats(1.0, 5000.0), ratios, wastes, st.floats(1.0, 20.0))
def test_scaling_the_space_scales_everything(space_ml: float, ratio: float, waste: float, by: float) -> None:
    """Twice the space must take twice the water, the plaster and the common rule."""
    one, more = mixed(space_ml, ratio, waste), mixed(space_ml * by, ratio, waste)
    for name in ("slurry_ml", "water_g", "plaster_g", "common_water_g", "common_plaster_g"):
        assert close(getattr(one, name) * by, getattr(more, name))


@given(st.floats(1.0, 5000.0), st.floats(1.0, 5000.0), ratios, wastes)
def test_two_spaces_take_what_one_takes(
    first_ml: float, second_ml: float, ratio: float, waste: float
) -> None:
    """A space poured in two parts must take what it takes in one."""
    parts = [mixed(space_ml, ratio, waste) for space_ml in (first_ml, second_ml)]
    whole = mixed(first_ml + second_ml, ratio, waste)
    assert close(sum(part.plaster_g for part in parts), whole.plaster_g)


@given(spaces, ratios)
def test_the_common_rule_makes_more_than_fills(space_ml: float, ratio: float) -> None:
    """As much water as space must always make more slurry than the space takes."""
    mix = mixed(space_ml, ratio)
    assert mix.common_water_g > mix.water_g
    assert mix.common_plaster_g > mix.plaster_g


@given(
    st.floats(500.0, 20_000.0),
    ratios,
    st.floats(0.0, 0.4),
    st.sampled_from(["hand", "boards", "case"]),
)
def test_a_pour_keeps_its_order_of_weights(space_ml: float, ratio: float, doubt: float, form: str) -> None:
    """A piece must be lighter dry than wet, and its bounds must hold its figures."""
    piece = PiecePour("A", 1, space_ml, space_ml, 90.0, 12.0, 28_900.0)
    (pour,) = plan_pours([piece], Brief(consistency=ratio, form=form), doubt)  # type: ignore[arg-type]
    assert 0 < pour.dry_kg < pour.wet_kg
    assert pour.wet_low_kg <= pour.wet_kg <= pour.wet_high_kg
    assert pour.dry_low_kg <= pour.dry_kg <= pour.dry_high_kg
    assert pour.mix_low.plaster_g <= pour.mix.plaster_g <= pour.mix_high.plaster_g
    # what is poured is the piece and the allowance
    poured_kg = (pour.mix.water_g + pour.mix.plaster_g) / 1000
    assert close(poured_kg, pour.wet_kg * (1 + pour.waste))
    assert math.isclose(pour.dry_kg * (100 + ratio), pour.wet_kg * 118.618, rel_tol=1e-5)


@given(st.floats(10.0, 10_000.0), st.floats(0.05, 3.0), st.floats(20.0, 199.0))
def test_what_floats_in_water_floats_in_slurry(volume_ml: float, density: float, ratio: float) -> None:
    """Slurry must lift more than water, and thick slurry more than thin."""
    mass_g = volume_ml * density
    reading, thinner = (judge_float(volume_ml, mass_g, w) for w in (ratio, ratio + 1))
    assert reading.lift_in_slurry_g > reading.lift_in_water_g
    assert reading.lift_in_slurry_g > thinner.lift_in_slurry_g
    assert reading.floats_in_slurry or not reading.floats_in_water
    assert reading.floats_in_water == (reading.relative_density < 1.0)
    assert reading.floats_in_slurry == (reading.relative_density < reading.slurry_relative_density)
    # the ballast named must just sink it
    if reading.floats_in_slurry:
        loaded = judge_float(volume_ml, mass_g + reading.ballast_g * 1.000001, ratio)
        assert not loaded.floats_in_slurry
        assert judge_float(volume_ml, mass_g + reading.ballast_g * 0.999999, ratio).floats_in_slurry
