"""From one pour to the next and to the finished mold: form off, flip, carve, chamfer, part, mark, dry."""

from __future__ import annotations

from collections.abc import Sequence

from claybed.bench.bed import keys_of
from claybed.bench.density import slurry_kg_per_m3
from claybed.bench.face_down import plan_packing
from claybed.bench.humps import hump_flip, hump_last_steps
from claybed.bench.telling import bench, from_shelf, practice, worked
from claybed.materials import shelf
from claybed.physics.plaster import dry_from_wet_kg
from claybed.records.bench import After, DryTarget, KeyUse
from claybed.records.brief import Brief
from claybed.records.figure import Worked
from claybed.records.pour import Pour
from claybed.records.standing import StandingObject, StandingPour
from claybed.units import say_length, say_ratio

_AGAIN = {
    "same_day": "Pour the second the same day, while the first piece is wet.",
    "wrapped": "Wrap the first piece in plastic with a damp cloth until the second pour.",
    "soaked": "The first piece has dried: soak it under water until no more bubbles come ({soak:g} "
    "minutes), wipe it, "
    "and release it again. Dry, it would drink the slurry and could float in it.",
}


def plan_after(
    pour: Pour,
    standing: Sequence[StandingPour],
    thing: StandingObject,
    brief: Brief,
    *,
    following: StandingPour | None,
    opening: tuple[str, ...],
    code: str,
    clay_kg: float,
) -> After:
    """What is done once a pour has set.

    `standing` the pours up to this one, in order; `following` the next, None for the pour that closes the
    mold; `opening` the letters in the order of opening; `clay_kg` of the bed, which hangs on when the mold is
    turned over. Reads `second_pour`. Source: practice.
    """
    usual = shelf.value("practice", "form_off_min")
    keys = () if following is None or len(standing) > 1 else keys_of(thing.keys, thing.first, "carved")
    flip = None if following is None else _flip(sum(one.wet_kg for one in standing), thing, clay_kg)
    if thing.hump is not None:
        flip = hump_flip(standing[-1].wet_kg, thing.mass_g)
    holds = standing[-1].wet_kg >= practice("lift_look_kg")
    marks = f"date · {say_ratio(pour.mix.consistency)} · {code}"
    scratch = f"{pour.piece} · {marks}"
    pry_mm = tuple(practice(f"pry_recess_{side}_mm") for side in ("length", "width", "depth"))
    if thing.hump is not None:
        steps = hump_last_steps(_nail(), scratch, holds)
    elif following is None:
        packed = plan_packing(thing, slurry_kg_per_m3(brief.consistency) / 1000.0) is not None
        marked = marks if len(opening) > 1 else scratch
        steps = _last_steps(marked, holds, pry_mm, opening, packed=packed)
    elif following.aside:
        kept = any(one.takes_bed for one in standing) or not any(keeper.takes_bed for keeper in thing.keepers)
        waiting = [one.piece for one in thing.keepers if one.order > following.order and not one.takes_bed]
        steps = _side_steps(flip, following, brief, waiting, on_bed=not kept)
    else:
        steps = _first_steps(flip, keys, brief, [keeper.piece for keeper in thing.keepers])
    return After(
        form_off_min=worked(
            usual.value,
            "min",
            "usual time; only once a nail leaves no dent and the heat has peaked",
            "practice",
            low=bench("form_off_least_min"),
            high=usual.high,
        ),
        flip_kg=flip,
        keys=keys,
        chamfer_mm=from_shelf("practice", "chamfer_mm", "outside edges"),
        pry_mm=worked(pry_mm, "mm", "length, width, depth of a pry recess", "practice"),
        grooves_count=from_shelf("bench", "strap_grooves_count", "round the closed mold"),
        hand_holds=holds,
        scratch=scratch,
        steps=steps,
        cautions=(
            "Hot plaster burns skin that stays on it. Wait until it has peaked and is falling.",
            "Wet plaster is heavy and slippery: lift close to the body, dry floor, two people "
            "where one would strain.",
            *(("Chisels and scrapers slip: cut away from your hand, goggles on.",) if not following else ()),
        ),
    )


def _nail() -> str:
    return (
        "Press a nail into the open face: no dent. Hold the back of a hand close to it: it has been hot and "
        "is getting cooler. That takes about "
        f"{practice('form_off_min'):g} minutes, never under {bench('form_off_least_min'):g}. Then take the "
        "form off."
    )


def model_kg(thing: StandingObject) -> float:
    """Mass of the object, kg: as weighed, else its solid volume times an assumed density. Source: bench."""
    density = shelf.value("bench", "model_density_g_per_ml").value
    return (thing.solid_ml * density if thing.mass_g is None else thing.mass_g) / 1000.0


def _flip(wet_kg: float, thing: StandingObject, clay_kg: float) -> Worked:
    assumed = thing.mass_g is None
    density = shelf.value("bench", "model_density_g_per_ml")
    object_kg = model_kg(thing)
    inputs: dict[str, float | str] = {
        "wet_kg": wet_kg,
        "model_kg": object_kg,
        "bed_clay_kg": clay_kg,
        "model_mass_from": "volume x an assumed density: weigh it" if assumed else "weighed",
    }
    doubt_kg = thing.solid_ml / 1000.0
    return worked(
        wet_kg + object_kg + clay_kg,
        "kg",
        "wet plaster so far + object + clay of the bed, which comes along unless it is cut away first",
        "derived",
        inputs,
        low=wet_kg + (density.low * doubt_kg if assumed else object_kg),
        high=wet_kg + (density.high * doubt_kg if assumed else object_kg) + clay_kg,
    )


def _first_steps(
    flip: Worked | None, keys: tuple[KeyUse, ...], brief: Brief, kept: Sequence[str]
) -> tuple[str, ...]:
    """From the first pour to the one on its other face; `kept` pieces whose fillers stay in."""
    carve: tuple[str, ...] = ()
    if keys:
        carve = (
            f"Carve {len(keys)} keys into the parting face where the template marks them: turn a coin or a "
            "ball tool of "
            f"Ø {say_length(keys[0].tool_mm.number)} to {say_length(keys[0].depth_mm.number)} deep, "
            "smooth, no lip.",
        )
    turned = f" ({flip.number:.1f} kg with object and bed, more if it was filled)" if flip is not None else ""
    places = "place of piece" if len(kept) == 1 else "places of pieces"
    stays = f" What keeps the {places} {' and '.join(kept)} stays in." if kept else ""
    return (
        _nail(),
        "Scrape the open face level while a knife still cuts it: the mold will stand on it. Chamfer the "
        f"edges round that face {practice('chamfer_mm'):g} mm wide now, before it is turned.",
        f"Turn it over{turned}: draw a wire through under the clay, flat on the chart, "
        "tip it on a side without the gate onto a soft mat, then onto the face that was open. The object "
        "stays in.",
        "Lift the bed off. Wipe water clay from the face and the object with a damp sponge, dig it out of "
        f"openings, pick the seam clean, and press on again what oil clay came off.{stays}",
        *carve,
        _AGAIN[brief.second_pour].format(soak=bench("soak_min")),
        "Release the whole face, the keys and the object, set the form up again to the second height, and "
        "pour.",
    )


def _side_steps(
    flip: Worked | None, following: StandingPour, brief: Brief, waiting: Sequence[str], *, on_bed: bool
) -> tuple[str, ...]:
    """From the closed pieces to the pour of one more on their side; `waiting` pieces whose fillers stay in,
    `on_bed` when they still stand on it.
    """
    along = " and the bed" if on_bed else ""
    weight = f" ({flip.number:.1f} kg with the object{along})" if flip is not None else ""
    clay = f"all the clay that kept the place of piece {following.piece}"
    stays = ""
    if following.takes_bed:
        clay = f"the bed, and {clay}"
    elif on_bed:
        stays = " The bed stays where it is: bring it along on its board, and press it on where it comes off."
    fillers = ""
    if waiting:
        fillers = f", the filler{'' if len(waiting) == 1 else 's'} of {' and '.join(waiting)} with them,"
    lies = "lies level"
    if following.rise_mm > 0.0:
        lies = (
            "the mold stands square on its opposite side; the face under the filler then slopes by "
            f"{say_length(following.rise_mm)} from end to end, and the pour comes level over it"
        )
    again = {
        "same_day": "Pour it the same day, while the others are wet.",
        "wrapped": "Wrap the mold in plastic with a damp cloth until the next pour.",
        "soaked": "What has dried drinks: soak the faces until no more bubbles come, wipe them, and release "
        "them again.",
    }
    return (
        _nail(),
        "Scrape the open face level while a knife still cuts it, and round its outside edges. Do not "
        "open the mold.",
        f"Strap the pieces together{fillers} and tip the mold{weight} on its side, over the edge of a soft "
        f"mat, until the filler of piece {following.piece} is on top and {lies}.{stays}",
        f"Take out the filler{',' if following.takes_bed else ' and'} {clay}. Wipe the "
        "faces, the sockets and the object with a damp sponge.",
        again[brief.second_pour],
        f"Release every face that piece {following.piece} will touch, the sockets and the object, set the "
        "form up around the closed pieces, and pour.",
    )


def _last_steps(
    scratch: str, holds: bool, pry_mm: tuple[float, ...], opening: tuple[str, ...], *, packed: bool = False
) -> tuple[str, ...]:
    """What follows the last pour; a mold of one piece has no seam to pry at. `packed` for a vessel that may
    be full of clay.
    """
    length, width, depth = (f"{side:g}" for side in pry_mm)
    grip = (
        ("Cut hand-holds into two opposite sides, as deep as your fingers, while it is still soft.",)
        if holds
        else ()
    )
    order = ""
    if len(opening) > 2:
        order = (
            f" Piece {opening[0]} comes off first, then {', then '.join(opening[1:])}: they lock otherwise."
        )
    where, joint = "at the seam", "seam"
    if len(opening) > 2:
        first = ", ".join(opening[:-2])
        where, joint = f"at the joint of each piece that comes off, {first} and {opening[-2]},", "joint"
    if len(opening) == 1:
        dug = ", dig the clay out of the hollow by hand, never with a blade," if packed else ""
        return (
            _nail(),
            f"Scratch into the outside of the piece: {scratch}. Paper tags do not last.",
            f"Chamfer the outside edges {practice('chamfer_mm'):g} mm wide with a rasp.",
            *grip,
            f"Let it rest for {bench('rest_h'):g} hours, then turn it open face up{dug} and draw the object "
            "straight out: wet the rim, tap all round with a rubber mallet, and wait if it holds; do not "
            "lever against one edge.",
            "Wash release off the face with a sponge, as the page “Ware” tells.",
            "Weigh the piece trimmed and wet, write it down, and stand it on slats to dry.",
        )
    return (
        _nail(),
        "Leave the mold closed. Scratch into the outside of each piece its letter, and: "
        f"{scratch}. Paper tags do not last.",
        f"Chamfer the outside edges that are still sharp, round the open face and down any corners, "
        f"{practice('chamfer_mm'):g} mm wide with a rasp; none along the seam.",
        f"Rasp {bench('strap_grooves_count'):g} grooves for straps round the closed mold, over the top, down "
        "two opposite sides and across the underside, clear of the gate, a quarter of the way in from each "
        f"end, as wide as the strap and {bench('strap_groove_depth_mm'):g} mm deep; for the underside tip it "
        "on its side, over a soft mat.",
        f"Cut two pry recesses {where} on opposite sides, {length} × {width} × {depth} mm "
        f"(along the {joint}, across it, deep): half of each in either piece, from outside, away from the "
        "cavity. Metal touches the plaster until here, and outside only; from now on wood and sponge.",
        *grip,
        f"Let it rest closed for {bench('rest_h'):g} hours, then part it: soak the seam with water, tap "
        f"all round with a rubber mallet, and pry in both recesses{' of its joint' if order else ''} a "
        f"little at a time, with wood. If it holds, wait and wet it again; do not lever against "
        f"one edge.{order}",
        "Take the object out along its pull. Wash release off the faces with a sponge, as the page “Ware” "
        "tells.",
        "Weigh each piece trimmed and wet, write it down, close the mold, and stand it on slats to dry. "
        "Strap it in its grooves with webbing or wire, so tight that the pieces do not shift: a rubber band "
        "that snaps throws dust.",
    )


def dry_targets(pours: tuple[Pour, ...]) -> tuple[DryTarget, ...]:
    """What each piece should weigh dry, and when it is ready to press or to cast, from its wet weight.

    dry = wet x 118.618 / (100 + w), give or take the mix and its purity; ready weights by the water left in a
    share of the dry mass. Sources: iupac-2021, materials/bench, materials/drying.
    """
    found = []
    for pour in pours:
        w = pour.mix.consistency
        share = dry_from_wet_kg(1.0, w)
        error = shelf.value("drying", "target_error_fraction").value
        wet_g, dry_g = 1000.0 * pour.wet_kg, 1000.0 * pour.wet_kg * share
        found.append(
            DryTarget(
                piece=pour.piece,
                wet_g=worked(
                    wet_g,
                    "g",
                    "planned; the trimmed piece on the scale counts",
                    "derived",
                    {"wet_kg": pour.wet_kg},
                    low=1000.0 * pour.wet_low_kg,
                    high=1000.0 * pour.wet_high_kg,
                ),
                dry_share=worked(
                    share,
                    "-",
                    "118.618 / (100 + consistency)",
                    "iupac-2021",
                    {"consistency_per_100": w, "target_error_fraction": error},
                    low=share * (1.0 - error),
                    high=share * (1.0 + error),
                ),
                dry_g=worked(
                    dry_g, "g", "wet_g x dry_share", "iupac-2021", {"wet_g": wet_g, "dry_share": share}
                ),
                press_ready_g=_ready(dry_g, "press_ready_fraction"),
                slip_ready_g=_ready(dry_g, "slip_ready_fraction"),
                shelf_dry_g=_ready(dry_g, "shelf_dry_fraction"),
                says=f"Weigh it trimmed and wet, multiply by {share:.4f}: that is dry. Confirm it by a "
                "plateau: less than "
                f"{100.0 * bench('plateau_fraction'):.1f} % lost in a day.",
            )
        )
    return tuple(found)


def _ready(dry_g: float, name: str) -> Worked:
    water = shelf.value("bench", name)
    return worked(
        dry_g * (1.0 + water.value),
        "g",
        "dry_g x (1 + water left, in a share of the dry mass)",
        water.source,
        {"dry_g": dry_g, name: water.value},
        low=dry_g * (1.0 + water.low),
        high=dry_g * (1.0 + water.high),
    )
