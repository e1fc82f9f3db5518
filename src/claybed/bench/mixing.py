"""How one pour is mixed: start times of every bucket, how long it can be worked, heat, leftover, rescue."""

from __future__ import annotations

import math

from claybed.bench.humps import HUMP_POUR
from claybed.bench.telling import bench, practice, worked
from claybed.materials import shelf
from claybed.physics.heat import peak_temperature_C
from claybed.records.bench import BucketTimes, Mixing
from claybed.records.brief import Brief
from claybed.records.figure import Worked
from claybed.records.finding import Amount, Finding
from claybed.records.pour import Pour
from claybed.records.standing import StandingObject, StandingPour
from claybed.units import say_length, say_mass, say_volume

_FROM_FIRST = "minutes from the first scoop of plaster"


def plan_mixing(pour: Pour, standing: StandingPour, thing: StandingObject, brief: Brief) -> Mixing:
    """The mixing of one pour.

    Reads `drills`, `mixing`, `scale_step_g` and `made_of`. Buckets are shared out among the mixers
    and sifted one after the other, so that they slake together; each is poured as soon as it is mixed.
    Sources: materials/practice, materials/bench, materials/plaster.
    """
    times = _times(pour, brief)
    needed_min = max(t.done_at_min.number for t in times) - min(t.mix_at_min.number for t in times)
    working = _working(pour.mix_water_celsius)
    peak, thickest, heat, warnings = _heat(pour, standing, thing, brief)
    slurry_ml = pour.mix.batches[0].slurry_ml
    leftover_ml = pour.mix.slurry_ml - pour.mix.space_ml
    fill = practice("bucket_fill_fraction")
    method = brief.mixing
    set_time = shelf.value("bench", f"set_{method}_min")
    return Mixing(
        method=method,
        mixers_count=worked(
            max(int(t.mixer.number) for t in times),
            "-",
            "mixers at hand, no more than buckets",
            "asked",
            {"drills": float(brief.drills), "buckets": float(len(times))},
        ),
        bucket_least_l=worked(
            slurry_ml / 1000.0 / fill,
            "l",
            "slurry of a batch / fullest a mixing bucket should be",
            "practice",
            {"slurry_ml": slurry_ml, "bucket_fill_fraction": fill},
        ),
        water_celsius=worked(pour.mix_water_celsius, "°C", "as asked, or the usual", "practice"),
        working_min=working,
        needed_min=worked(
            needed_min,
            "min",
            "last bucket poured - first bucket begun to mix",
            "derived",
            {"buckets": float(len(times))},
        ),
        set_min=worked(
            set_time.value,
            "min",
            f"makers' setting times, mixed by {'machine' if method == 'drill' else 'hand'}",
            set_time.source,
            low=set_time.low,
            high=set_time.high,
        ),
        buckets=times,
        pace=_pace(times, needed_min, working),
        peak_celsius=peak,
        thickest_mm=thickest,
        heat=heat,
        leftover_ml=worked(
            leftover_ml,
            "ml",
            "slurry mixed - space",
            "derived",
            {"slurry_ml": pour.mix.slurry_ml, "space_ml": pour.mix.space_ml},
        ),
        leftover_use=leftover_use(leftover_ml),
        rescue=_rescue(pour),
        steps=_steps(pour, brief, hump=thing.hump is not None),
        too_late=(
            "The slurry drags on a stick instead of running off it.",
            "A line drawn in it stays.",
            "It feels warm.",
        ),
        cautions=_cautions(brief),
        findings=(*_scale_findings(pour, brief), *warnings),
    )


def _times(pour: Pour, brief: Brief) -> tuple[BucketTimes, ...]:
    """When each bucket is sifted, slakes, is mixed and poured, by mixer, in minutes."""
    sift, slake, out = practice("sift_min"), practice("slake_min"), practice("pour_min")
    stir = practice("mix_min") if brief.mixing == "drill" else bench("mix_hand_min")
    batches = pour.mix.batches
    mixers = min(max(brief.drills, 1), len(batches))
    given: dict[str, float | str] = {"sift_min": sift, "slake_min": slake, "mix_min": stir, "pour_min": out}
    rows: list[tuple[int, float, float, float, float, float]] = []
    for mixer in range(mixers):
        own = list(range(mixer, len(batches), mixers))
        free = sift * len(own)  # hands are free to mix once all of one's buckets are sifted
        for place, number in enumerate(own):
            sift_at = sift * place
            mix_at = max(sift_at + sift + slake, free)
            free = mix_at + stir + out
            rows.append((number, float(mixer + 1), sift_at, sift_at + sift, mix_at, mix_at + stir))
    found = []
    for number, mixer_of, sift_at, slake_at, mix_at, pour_at in sorted(rows):
        batch = batches[number]

        def _at(minutes: float, what: str) -> Worked:
            return worked(minutes, "min", f"{_FROM_FIRST}: {what}", "practice", given)

        found.append(
            BucketTimes(
                number=worked(batch.number, "-", "place in the order of mixing", "derived"),
                mixer=worked(int(mixer_of), "-", "shared out in turn", "derived"),
                water_g=worked(
                    batch.water_g,
                    "g",
                    "water of the pour / buckets",
                    "derived",
                    {"water_g": pour.mix.water_g},
                ),
                plaster_g=worked(
                    batch.plaster_g,
                    "g",
                    "plaster of the pour / buckets",
                    "derived",
                    {"plaster_g": pour.mix.plaster_g},
                ),
                sift_at_min=_at(sift_at, "the mixer's buckets are sifted one after the other"),
                slake_at_min=_at(slake_at, "sifting done"),
                mix_at_min=_at(mix_at, "slaked, and hands free"),
                pour_at_min=_at(pour_at, "mixed"),
                done_at_min=_at(pour_at + out, "poured out"),
            )
        )
    return tuple(found)


def _working(water_C: float) -> Worked:
    """How long a mixed slurry pours, min: a little shorter in warm water, by a maker's graph to 38 °C."""
    usual = shelf.value("practice", "working_time_min")
    warm = shelf.value("bench", "warm_working_fraction")
    tap_C, warm_C = practice("mix_water_C"), bench("warm_water_C")
    share = min(max((water_C - tap_C) / (warm_C - tap_C), 0.0), 1.0)
    left = 1.0 - share * (1.0 - warm.value)
    return worked(
        usual.value * left,
        "min",
        "half the machine-mixed setting time, less up to a fifth in water from 20 to 38 °C",
        "practice",
        {"working_time_min": usual.value, "water_celsius": water_C, "warm_working_fraction": warm.value},
        low=usual.low * left,
        high=usual.high * left,
    )


def _heat(
    pour: Pour, standing: StandingPour, thing: StandingObject, brief: Brief
) -> tuple[Worked, Worked, str, tuple[Finding, ...]]:
    depth_mm = standing.fill_from_board_mm - standing.bed_level_mm
    # A core in the object, or a plug behind it, is as hot in the middle as a block of that height.
    thickest_mm = min(depth_mm + standing.deeper_mm, *standing.inside_mm)
    thick = thickest_mm >= practice("thick_plaster_mm")
    kept = 1.0 if thick else shelf.value("plaster", "kept_heat_fraction").value
    rise_K = pour.peak_celsius - pour.slurry_celsius
    peak_C = peak_temperature_C(pour.slurry_celsius, rise_K, kept_fraction=kept)
    q = shelf.value("plaster", "hydration_heat_kJ_per_kg")
    peak = worked(
        peak_C,
        "°C",
        "slurry of that water and plaster of 20 °C + share of the heat kept x adiabatic rise",
        q.source,
        {
            "water_celsius": pour.mix_water_celsius,
            "slurry_celsius": pour.slurry_celsius,
            "rise_kelvin": rise_K,
            "kept_heat_fraction": kept,
            "thickest_mm": thickest_mm,
        },
        low=pour.slurry_celsius + kept * rise_K * q.low / q.value,
        high=pour.slurry_celsius + kept * rise_K * q.high / q.value,
    )
    thickest = worked(
        thickest_mm,
        "mm",
        "liquid height with what reaches deeper than the bed, or the form's short side, the lesser",
        "geometry",
        {"depth_mm": depth_mm, "deeper_mm": standing.deeper_mm},
    )
    soft = _softens(brief, thing)
    says = f"The middle of this block reaches about {peak_C:.0f} °C."
    warnings = [
        Finding(
            id="heat_softens",
            severity="look",
            where=f"pour of piece {pour.piece}",
            says=f"The plaster reaches about {peak_C:.0f} °C, and {name} softens from about {limit_C:g} °C.",
            remedy="Mix with cold water, keep what softens out of the thick parts, or take the form off as "
            "soon as "
            "the plaster is hard and let it cool in the open.",
            amount=Amount(peak_C, "°C"),
        )
        for name, limit_C in soft
        if peak_C > limit_C
    ]
    soft_C = bench("oil_clay_softens_C")
    if thing.fill_ml >= bench("fill_told_least_ml") and brief.made_of != "oil_clay" and peak_C > soft_C:
        warnings.append(
            Finding(
                id="fill_softens",
                severity="look",
                where=f"pour of piece {pour.piece}",
                says=f"The plaster reaches about {peak_C:.0f} °C, and the oil clay that fills gaps softens "
                f"from about {soft_C:g} °C.",
                remedy="It holds while nothing moves it: press the fill in firmly, keep the object in its "
                "piece while the plaster is hot, and wipe off what has smeared.",
                amount=Amount(peak_C, "°C"),
            )
        )
    if pour.mix_water_celsius > practice("mix_water_warm_C"):
        warnings.append(
            Finding(
                id="water_warm",
                severity="look",
                where=f"pour of piece {pour.piece}",
                says=f"Water of {pour.mix_water_celsius:g} °C drives the heat up to about {peak_C:.0f} °C "
                "and "
                "shortens the working time.",
                remedy=f"Use water of {practice('mix_water_C'):g} °C.",
                amount=Amount(pour.mix_water_celsius, "°C"),
            )
        )
    return peak, thickest, says, tuple(warnings)


def _softens(brief: Brief, thing: StandingObject) -> list[tuple[str, float]]:
    names = {"pla": "a printed object of PLA", "oil_clay": "oil clay", "wax": "wax"}
    found = [brief.made_of] if brief.made_of in names else []
    return [(names[name], bench(f"{name}_softens_C")) for name in found]


def leftover_use(leftover_ml: float) -> str:
    """What to do with plaster that is left over, ml. Source: practice."""
    diameter_mm, height_mm = bench("bat_diameter_mm"), bench("bat_height_mm")
    bat_ml = math.pi / 4.0 * diameter_mm**2 * height_mm / 1000.0
    cube_ml = bench("test_cube_ml")
    if leftover_ml >= bat_ml:
        return (
            f"{say_volume(leftover_ml)} is left over: a drying bat of Ø {say_length(diameter_mm)} × "
            f"{say_length(height_mm)} takes {say_volume(bat_ml)}."
        )
    if leftover_ml >= cube_ml:
        return (
            f"{say_volume(leftover_ml)} is left over: pour {say_volume(cube_ml)} into a cup as a test "
            "cube, and "
            "weigh it wet and dry."
        )
    return f"{say_volume(leftover_ml)} is left over: scrape it out onto newspaper."


def _rescue(pour: Pour) -> str:
    ten = 10.0 * (pour.water_g_per_mm + pour.plaster_g_per_mm)
    return (
        f"Short by 10 mm? Mix {say_mass(10.0 * pour.water_g_per_mm)} of water and "
        f"{say_mass(10.0 * pour.plaster_g_per_mm)} of plaster ({say_mass(ten)}) at once, scratch the face, "
        "and "
        "pour while it is still dull and wet. Once it has set, a second layer leaves a cold joint."
    )


def _steps(pour: Pour, brief: Brief, *, hump: bool) -> tuple[str, ...]:
    stir = practice("mix_min") if brief.mixing == "drill" else bench("mix_hand_min")
    by = (
        "Mix with the drill, slow, paddle under the surface"
        if brief.mixing == "drill"
        else "Mix by hand in a glove, slow, under the surface"
    )
    together = (
        "; sift every bucket before you mix the first, so that they slake together"
        if len(pour.mix.batches) > 1
        else ""
    )
    return (
        f"Weigh the water first: {pour.mix_water_celsius:.0f} °C, into the bucket.",
        f"Sift the plaster into the water over {practice('sift_min'):g} minutes, low over the "
        f"surface{together}.",
        f"Let it slake for {practice('slake_min'):g} minutes without touching it.",
        f"{by}, for about {stir:g} minutes, until it is smooth. Stop the drill: a stick dipped in "
        "comes out evenly coated. Tap the bucket; skim the froth."
        if brief.mixing == "drill"
        else f"{by}, for about {stir:g} minutes, until it is smooth and a stick dipped in comes out evenly "
        "coated. Tap the bucket; skim the froth.",
        HUMP_POUR
        if hump
        else "Pour slowly into one corner and let it rise; tap the board to bring bubbles up. Stop at the "
        "fill line.",
        "Scrape the bucket out onto newspaper at once. If the form leaks, press clay on the place and wait "
        "until that holds.",
    )


def _cautions(brief: Brief) -> tuple[str, ...]:
    dust = (
        "Plaster dust harms lungs and eyes: fitted mask (FFP2, N95 or better), goggles, the sack kept low, "
        "powder into water and never the other way; wipe up wet."
    )
    skin = (
        "Never put a hand, or any part of a body, into plaster to cast it: it sets around it and burns. "
        "Gloves on."
    )
    drain = (
        "Rinse in a row of buckets, let the sludge set, and give it to the waste that your town names. "
        "Nothing goes down a drain."
    )
    if brief.mixing == "hand":
        return (dust, skin, drain)
    drill = (
        "Drill and water: a socket with a residual-current breaker (GFCI), dry hands, sleeves and hair tied "
        "back, the bucket held by a second person or wedged fast, unplugged before you touch the paddle."
    )
    return (dust, drill, skin, drain)


def _pace(times: tuple[BucketTimes, ...], needed_min: float, working: Worked) -> str:
    """Whether the last bucket meets plaster that still flows, as a sentence."""
    least_min = working.figure.low or working.number
    most_min = working.figure.high or working.number
    span = f"From the first mix to the last drop it takes {needed_min:.0f} minutes"
    if needed_min <= least_min:
        return f"{span}, and the slurry pours for about {working.number:.0f}: no haste."
    if needed_min <= most_min:
        return f"{span}, and the slurry pours for {least_min:.0f} to {most_min:.0f}: pour without a pause."
    people = math.ceil(len(times) / int(practice("batches_per_person_count")))
    return (
        f"{span}, and the slurry pours for at most {most_min:.0f}: the last bucket would meet set plaster. "
        "Mix with "
        f"{people} people, or in larger buckets."
    )


def _scale_findings(pour: Pour, brief: Brief) -> tuple[Finding, ...]:
    least_g = min(pour.mix.batches[0].water_g, pour.mix.batches[0].plaster_g)
    if brief.scale_step_g <= bench("scale_share_most_fraction") * least_g:
        return ()
    return (
        Finding(
            id="scale_coarse",
            severity="note",
            where=f"pour of piece {pour.piece}",
            says=f"Steps of {brief.scale_step_g:g} g are coarse for {say_mass(least_g)}.",
            remedy="Use a finer scale, or the ratio drifts.",
            amount=Amount(brief.scale_step_g, "g"),
        ),
    )
