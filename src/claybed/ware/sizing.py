"""From model to fired piece and back: shrinkage, bars, the boil test."""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from itertools import pairwise

from scipy.special import stdtrit

from claybed.errors import InputError
from claybed.materials.bodies import Body
from claybed.materials.shelf import Constant
from claybed.physics import boiling, shrinkage
from claybed.physics.expansion import compounded_expansion_fraction
from claybed.records.figure import Figure
from claybed.records.reckoned import Reckoned
from claybed.records.ware import Bar, Boiled, Shrinkage, Sizes
from claybed.ware.reckoning import asked, reckon, taken, within_error

_SURE = 0.975  # both tails of a 95 % interval


def shrinkage_of(
    *,
    body: Body | None = None,
    total: Constant | None = None,
    drying: Constant | None = None,
    firing: Constant | None = None,
    growth_fraction: float = 0.0,
    castings: int = 1,
) -> Shrinkage:
    """Shrinkage from a clay body, a total, or drying and firing (fractions), which compound.

    `growth_fraction` is the linear growth of the plaster at each of `castings`. Raises InputError when
    nothing says the shrinkage, or when a total contradicts its parts by more than half a point.
    """
    parts = None
    if drying is not None and firing is not None:
        parts = reckon(
            lambda drying, firing: 100 * shrinkage.compounded_shrinkage_fraction(drying, firing),
            "percent",
            "100 (1 - (1 - drying)(1 - firing))",
            "astm-c326",
            drying=drying,
            firing=firing,
        )
        if total is not None and abs(100 * total.value - parts.value) > 0.5:
            raise InputError(
                f"{100 * total.value:g} % in all contradicts the {parts.value:.2f} % of drying and firing.",
                where="--total",
                remedy="Leave one of them out; the two compound and do not add up.",
            )
    if total is None and parts is None and body is not None:
        total, drying = body.total, drying or body.drying
    if total is None and parts is None:
        raise InputError(
            "nothing says how the clay shrinks.",
            where="shrinkage",
            remedy="Give --body NAME, --total 12%, or --drying and --firing.",
        )
    whole = parts if total is None else taken(total, "percent", "linear, from mold to fired", 100.0)
    assert whole is not None
    part = Constant(
        whole.value / 100, "-", whole.low / 100, whole.high / 100, whole.figure.source, "read", ""
    )
    later: Reckoned | None = None if firing is None else taken(firing, "percent", "on the dry length", 100.0)
    if firing is None and drying is not None and body is None:
        later = reckon(
            lambda total, drying: 100 * (1 - (1 - total) / (1 - drying)),
            "percent",
            "100 (1 - (1 - total) / (1 - drying))",
            "astm-c326",
            total=part,
            drying=drying,
        )
    grown = reckon(
        lambda growth: 100 * compounded_expansion_fraction(growth, castings=castings),
        "percent",
        f"100 ((1 + growth)^{castings} - 1)",
        "usg-ig526",
        growth=growth_fraction,
    )
    return Shrinkage(
        clay="" if body is None else body.name,
        total_percent=whole,
        drying_percent=None if drying is None else taken(drying, "percent", "on the wet length", 100.0),
        firing_percent=later,
        growth_percent=grown,
        oversize_ratio=reckon(
            lambda total, growth: shrinkage.oversize_ratio(total, growth_fraction=growth),
            "-",
            "1 / ((1 - total)(1 + growth))",
            "astm-c326",
            total=part,
            growth=grown.value / 100,
        ),
        volume_percent=reckon(
            lambda total: 100 * shrinkage.volume_shrinkage_fraction(total),
            "percent",
            "100 (1 - (1 - total)^3)",
            "astm-c326",
            total=part,
        ),
    )


def sizes_of(
    shrunk: Shrinkage,
    *,
    fired_mm: float | None = None,
    model_mm: float | None = None,
    fired_wall_mm: float | None = None,
    wet_wall_mm: float | None = None,
    fired_capacity_ml: float | None = None,
    wet_capacity_ml: float | None = None,
) -> Sizes:
    """The other end of each length (mm) or volume (ml) that was given: model from fired, fired from model."""
    oversize = shrunk.oversize_ratio
    total = Constant(
        shrunk.total_percent.value / 100,
        "-",
        shrunk.total_percent.low / 100,
        shrunk.total_percent.high / 100,
        shrunk.total_percent.figure.source,
        "read",
        "",
    )

    def longer(fired_length_mm: float | None, what: str) -> Reckoned | None:
        if fired_length_mm is None:
            return None
        return reckon(
            lambda fired_mm, oversize_ratio: fired_mm * oversize_ratio,
            "mm",
            f"{what} x oversize",
            "astm-c326",
            fired_mm=fired_length_mm,
            oversize_ratio=oversize,
        )

    def shorter(model_length_mm: float | None, what: str) -> Reckoned | None:
        if model_length_mm is None:
            return None
        return reckon(
            lambda model_mm, oversize_ratio: model_mm / oversize_ratio,
            "mm",
            f"{what} / oversize",
            "astm-c326",
            model_mm=model_length_mm,
            oversize_ratio=oversize,
        )

    def wall(given_mm: float | None, wanted: bool) -> Reckoned | None:
        if given_mm is None:
            return None
        return reckon(
            lambda wall_mm, total: wall_mm / (1 - total) if wanted else wall_mm * (1 - total),
            "mm",
            "fired wall / (1 - total)" if wanted else "wet wall x (1 - total)",
            "astm-c326",
            wall_mm=given_mm,
            total=total,
        )

    def volume(given_ml: float | None, wanted: bool) -> Reckoned | None:
        if given_ml is None:
            return None
        work = shrinkage.wet_volume_m3 if wanted else shrinkage.fired_volume_m3
        return reckon(
            lambda volume_ml, total: 1e6 * work(volume_ml * 1e-6, total),
            "ml",
            "fired capacity / (1 - total)^3" if wanted else "wet capacity x (1 - total)^3",
            "astm-c326",
            volume_ml=given_ml,
            total=total,
        )

    def given(amount: float | None, unit: str) -> Reckoned | None:
        return None if amount is None else taken(amount, unit, "as given")

    return Sizes(
        model_mm=longer(fired_mm, "fired length") or given(model_mm, "mm"),
        fired_mm=given(fired_mm, "mm") or shorter(model_mm, "model's length"),
        wet_wall_mm=wall(fired_wall_mm, True) or given(wet_wall_mm, "mm"),
        fired_wall_mm=given(fired_wall_mm, "mm") or wall(wet_wall_mm, False),
        wet_capacity_ml=volume(fired_capacity_ml, True) or given(wet_capacity_ml, "ml"),
        fired_capacity_ml=given(fired_capacity_ml, "ml") or volume(wet_capacity_ml, False),
    )


def read_bars(
    bars: Sequence[tuple[float, float | None, float | None, float]], *, read_to_mm: float = 0.5
) -> Bar:
    """Shrinkage from bars, each (plastic, dry or None, bisque or None, fired) in mm, read to `read_to_mm`.

    One or two bars: bounds for lengths misread by as much. Three or more: the 95 % interval of the mean.
    Raises InputError for a length that grew where it should shrink by more than the reading error.
    """
    if not bars:
        raise InputError("no bar was given.", where="--plastic", remedy="Give --plastic and --fired-length.")
    for plastic, dry, bisque, fired in bars:
        states = [length for length in (plastic, dry, bisque, fired) if length is not None]
        if min(states) <= 0 or any(after > before + 2 * read_to_mm for before, after in pairwise(states)):
            raise InputError(
                "a bar that grows from one state to the next cannot be.",
                where="bar",
                remedy="Give plastic, dry, bisque and fired in this order; each is at most the one before.",
            )
    total = _mean(bars, 0, 3, "plastic", "fired", read_to_mm)
    assert total is not None
    return Bar(
        bars=taken(float(len(bars)), "-", "bars read"),
        total_percent=total,
        drying_percent=_mean(bars, 0, 1, "plastic", "dry", read_to_mm),
        bisque_percent=_mean(bars, 1, 2, "dry", "bisque", read_to_mm),
        firing_percent=_mean(bars, 1, 3, "dry", "fired", read_to_mm),
        oversize_ratio=reckon(
            lambda total_percent: shrinkage.oversize_ratio(total_percent / 100),
            "-",
            "1 / (1 - total)",
            "astm-c326",
            total_percent=total,
        ),
    )


def _mean(
    bars: Sequence[tuple[float, float | None, float | None, float]],
    first: int,
    then: int,
    before: str,
    after: str,
    read_to_mm: float,
) -> Reckoned | None:
    pairs = [(bar[first], bar[then]) for bar in bars if bar[first] is not None and bar[then] is not None]
    if not pairs:
        return None
    formula = f"100 ({before} - {after}) / {before}"
    each = [
        reckon(
            lambda before_mm, after_mm: (
                100 * shrinkage.linear_shrinkage_fraction(before_mm / 1000, after_mm / 1000)
            ),
            "percent",
            formula,
            "astm-c326",
            before_mm=within_error(float(long or 0), read_to_mm),
            after_mm=within_error(float(short or 0), read_to_mm),
        )
        for long, short in pairs
    ]
    if len(each) == 1:
        return each[0]
    values = [one.value for one in each]
    mean = statistics.fmean(values)
    inputs: dict[str, float | str] = {f"bar_{k + 1}_percent": value for k, value in enumerate(values)}
    if len(values) == 2:
        low, high = min(one.low for one in each), max(one.high for one in each)
        return Reckoned(mean, Figure("percent", f"mean of {formula}", "astm-c326", inputs, low, high))
    half = float(stdtrit(len(values) - 1, _SURE)) * statistics.stdev(values) / len(values) ** 0.5
    return Reckoned(
        mean,
        Figure(
            "percent",
            f"mean of {formula}, 95 % interval by Student's t",
            "astm-c326",
            inputs,
            mean - half,
            mean + half,
        ),
    )


def boil_test(dry_g: float, soaked_g: float, suspended_g: float | None) -> Boiled:
    """Absorption, and with the mass hanging in water porosity and densities (g). Raises InputError for
    masses out of order.
    """
    dry, soaked = asked(dry_g), asked(soaked_g)

    def made(work: object, unit: str, formula: str, factor: float, **masses: Constant) -> Reckoned:
        assert callable(work)
        return reckon(
            lambda **g: factor * float(work(**{f"{name[:-2]}_kg": mass / 1000 for name, mass in g.items()})),
            unit,
            formula,
            "astm-c373",
            **masses,
        )

    water = made(
        boiling.water_absorption_fraction,
        "percent",
        "100 (soaked - dry) / dry",
        100.0,
        dry_g=dry,
        soaked_g=soaked,
    )
    if suspended_g is None:
        return Boiled(water, None, None, None)
    hung = asked(suspended_g)
    three = {"dry_g": dry, "suspended_g": hung, "soaked_g": soaked}
    return Boiled(
        absorption_percent=water,
        porosity_percent=made(
            boiling.apparent_porosity_fraction,
            "percent",
            "100 (soaked - dry) / (soaked - suspended)",
            100.0,
            **three,
        ),
        apparent_density_ratio=made(
            boiling.apparent_density_ratio, "-", "dry / (dry - suspended)", 1.0, dry_g=dry, suspended_g=hung
        ),
        bulk_density_ratio=made(boiling.bulk_density_ratio, "-", "dry / (soaked - suspended)", 1.0, **three),
    )
