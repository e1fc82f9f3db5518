"""The form of one pour: boards around a box or a band around a round, what it must bear, where it leaks."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from claybed.bench.boards import board_use, boards_how, owned, stiffening, too_small
from claybed.bench.density import slurry_kg_per_m3
from claybed.bench.keeping import around_closed, keeping_words
from claybed.bench.telling import from_shelf, practice, worked
from claybed.errors import InputError
from claybed.geometry.enclosing import band_around, boards_around
from claybed.materials import shelf
from claybed.physics.forms import (
    oval_gain_fraction,
    strap_pull_N,
)
from claybed.physics.pressure import band_force_N, head_pressure_Pa
from claybed.records.bench import BandUse, Form, Strap
from claybed.records.brief import Brief
from claybed.records.figure import Worked
from claybed.records.finding import Amount, Finding
from claybed.records.standing import Keeper, StandingPour
from claybed.records.studio import Band, BoardSet
from claybed.units import say_length

_HEAD = "density of the slurry x g x height of liquid"


def plan_form(pour: StandingPour, brief: Brief, keepers: Sequence[Keeper] = ()) -> Form:
    """The form for one pour, from what the studio owns (`boards`, `bands`), else the least that will do.

    `keepers` of pieces that are poured on the closed others stand in every form before their own. Reads
    `boards`, `bands`, `form` and `consistency` of the brief. A set that cannot hold the pour is a
    finding that stops, with the nearest size that would. Sources: hydrostatics, beam-theory, plate-table,
    practice.
    """
    depth_mm = pour.fill_from_board_mm - pour.bed_level_mm
    if depth_mm <= 0.0:
        raise InputError(
            f"the fill line lies {-depth_mm:g} mm under the bed.",
            where=f"piece {pour.piece}",
            remedy="Check the object's unit and the wall.",
        )
    freeboard_mm = practice("freeboard_mm")
    least_mm = pour.fill_from_board_mm + freeboard_mm
    build = _round_form if len(pour.inside_mm) == 1 else _boxed_form
    form = build(pour, brief, depth_mm, least_mm)
    kept = [keeping_words(keeper, pour) for keeper in keepers if keeper.order > pour.order]
    if pour.aside:
        kept = [
            around_closed(pour, {keeper.piece for keeper in keepers if keeper.order > pour.order}),
            *kept,
        ]
    return replace(form, how=" ".join((form.how, *kept)))


def _boxed_form(pour: StandingPour, brief: Brief, depth_mm: float, least_mm: float) -> Form:
    x_mm, y_mm = pour.inside_mm
    reach_mm = practice("clamp_reach_mm")
    found = boards_around((x_mm, y_mm), least_mm, brief.boards, reach_mm=reach_mm) if brief.boards else None
    findings: tuple[Finding, ...] = ()
    if found is None:
        if brief.boards and brief.form != "case":
            findings = (too_small(pour, least_mm, brief, reach_mm),)
        thick_mm = shelf.value("boards", "board_thickness_mm").value
        # Boards are cut to a whole millimetre; the rim that paper tells is the one that stands there.
        high_mm = math.ceil(least_mm)
        found = (
            BoardSet("", x_mm + thick_mm + reach_mm, high_mm, thick_mm, 2),
            BoardSet("", y_mm + thick_mm + reach_mm, high_mm, thick_mm, 2),
        )
    boards = (
        board_use(found[0], found[1], x_mm, depth_mm, brief),
        board_use(found[1], found[0], y_mm, depth_mm, brief),
    )
    rim_mm = min(found[0].height_mm, found[1].height_mm)
    stiffen, bends = stiffening(boards, found, (x_mm, y_mm), depth_mm, brief)
    thick_mm = found[0].thickness_mm + found[1].thickness_mm
    foot_mm = 2.0 * (x_mm + y_mm) + 4.0 * thick_mm
    # A strap round a box pulls on both ends of each board, so that each strand takes half.
    force_N = max(board.force_newtons.number for board in boards) / 2.0
    return Form(
        kind="case" if brief.form == "case" else "boards",
        how=boards_how(found, x_mm, y_mm),
        boards=boards,
        band=None,
        straps=_straps(pour, depth_mm, force_N, "half the longer board's force, shared by two straps"),
        coil_mm=worked(
            foot_mm + 4.0 * pour.fill_from_board_mm,
            "mm",
            "2 x (outside length + width) + 4 corners x fill line above the board",
            "derived",
            {
                "length_mm": x_mm,
                "width_mm": y_mm,
                "both_thicknesses_mm": thick_mm,
                "fill_from_board_mm": pour.fill_from_board_mm,
            },
        ),
        stiffen=stiffen,
        leaks=(
            "Under the boards: press the coil into the joint outside, all round.",
            "At each corner, outside: coil from the base up past the fill line, round the clamp.",
            _joint_below(pour, "boards"),
        ),
        cautions=(),
        findings=findings + bends,
        **_shared(pour, brief, depth_mm, least_mm, rim_mm),
    )


def _round_form(pour: StandingPour, brief: Brief, depth_mm: float, least_mm: float) -> Form:
    (diameter_mm,) = pour.inside_mm
    turns_least = shelf.value("boards", "band_turns_least_count").value
    girth_mm = math.pi * diameter_mm if pour.girth_mm is None else pour.girth_mm
    found = band_around(girth_mm / math.pi, least_mm, brief.bands, turns_least_count=turns_least)
    findings: tuple[Finding, ...] = ()
    if found is None:
        if brief.bands and brief.form != "case":
            findings = (_too_short(pour, least_mm, girth_mm * turns_least, brief),)
        found = Band("", turns_least * girth_mm, least_mm)
    pull_N = band_force_N(
        diameter_mm / 2000.0, depth_mm / 1000.0, liquid_kg_per_m3=slurry_kg_per_m3(brief.consistency)
    )
    inputs = {"length_mm": found.length_mm, "diameter_mm": diameter_mm, "girth_mm": girth_mm}
    flat = ""
    if pour.flat_mm > 0.0:
        flat = (
            f" Where the gate comes out, stand a straight strip {say_length(pour.flat_mm)} wide inside the "
            "band and draw the band over it, so that the side is flat there."
        )
    oval_ratio = shelf.value("boards", "band_oval_ratio").value
    band = BandUse(
        set=found.name,
        length_mm=worked(found.length_mm, "mm", owned(found.name, "at least two turns"), "asked"),
        height_mm=worked(found.height_mm, "mm", owned(found.name, "fill line and freeboard"), "asked"),
        turns_count=worked(
            found.length_mm / girth_mm,
            "-",
            "length of the band / girth of the block, its gate flat included",
            "geometry",
            inputs,
        ),
        overlap_mm=worked(
            found.length_mm - girth_mm, "mm", "length of the band - girth of the block", "geometry", inputs
        ),
        pull_newtons=worked(
            pull_N,
            "N",
            "density of the slurry x g x height of liquid² x radius / 2",
            "hydrostatics",
            {"depth_mm": depth_mm, "radius_mm": diameter_mm / 2.0},
        ),
        oval_fraction=worked(
            oval_gain_fraction(oval_ratio),
            "-",
            "area gained when the liquid pushes an oval band round, girth kept",
            "ellipse-girth",
            {"length_to_width_ratio": oval_ratio},
        ),
    )
    return Form(
        kind="case" if brief.form == "case" else "band",
        how=f"Roll the band to {say_length(diameter_mm)} inside, its free end outside, and strap it before "
        "you "
        f"let go. Check it with a ruler both ways: a round, not an oval.{flat}",
        boards=(),
        band=band,
        straps=_straps(pour, depth_mm, pull_N, "pull of the band, shared by two straps"),
        coil_mm=worked(
            girth_mm + depth_mm,
            "mm",
            "girth of the block + liquid height along the band's end",
            "derived",
            {"girth_mm": girth_mm, "depth_mm": depth_mm},
        ),
        stiffen="",
        leaks=(
            "Under the band: press the coil into the outside of the joint all the way round.",
            "Along the inner end of the band, from the base up past the fill line.",
            _joint_below(pour, "band"),
        ),
        cautions=_band_cautions(found),
        findings=findings,
        **_shared(pour, brief, depth_mm, least_mm, found.height_mm),
    )


def _wider_ml(pour: StandingPour, depth_mm: float) -> tuple[float, ...]:
    """Space that a millimetre more of each inside measure adds, ml: fillers stay as thick as they are."""
    if len(pour.inside_mm) == 1:
        return (math.pi / 2.0 * pour.inside_mm[0] * depth_mm / 1000.0,)
    x_mm, y_mm = pour.own_mm or pour.inside_mm
    return (y_mm * depth_mm / 1000.0, x_mm * depth_mm / 1000.0)


def _shared(
    pour: StandingPour, brief: Brief, depth_mm: float, least_mm: float, rim_mm: float
) -> dict[str, Worked]:
    slurry = slurry_kg_per_m3(brief.consistency)
    freeboard = from_shelf("practice", "freeboard_mm", "board above the fill line")
    return {
        "inside_mm": worked(pour.inside_mm, "mm", "sides of the block", "geometry"),
        "object_mm": worked(pour.object_mm, "mm", "width of the object along the form's sides", "geometry"),
        "footprint_mm2": worked(
            pour.footprint_mm2, "mm2", "plan of the block, less what keeps a later piece's place", "geometry"
        ),
        "bed_level_mm": worked(
            pour.bed_level_mm,
            "mm",
            "flat part of the parting surface above the board of this pour; 0 when the pour stands on it",
            "geometry",
        ),
        "depth_mm": worked(
            depth_mm,
            "mm",
            "fill line - level of the bed or first piece",
            "geometry",
            {"fill_from_board_mm": pour.fill_from_board_mm, "bed_level_mm": pour.bed_level_mm},
        ),
        "per_mm_wider_ml": worked(
            _wider_ml(pour, depth_mm),
            "ml/mm",
            "boxed: the other side, less fillers, x depth; round: pi / 2 x diameter x depth",
            "geometry",
            {"depth_mm": depth_mm},
        ),
        "height_least_mm": worked(
            least_mm,
            "mm",
            "fill line + freeboard",
            "practice",
            {"fill_from_board_mm": pour.fill_from_board_mm, "freeboard_mm": freeboard.number},
        ),
        "freeboard_mm": freeboard,
        "fill_from_board_mm": worked(
            pour.fill_from_board_mm, "mm", "height of the pour above the board", "geometry"
        ),
        "fill_from_rim_mm": worked(
            rim_mm - pour.fill_from_board_mm,
            "mm",
            "height of the lowest board or band - fill line",
            "geometry",
            {"rim_mm": rim_mm, "fill_from_board_mm": pour.fill_from_board_mm},
        ),
        "base_kpa": worked(
            head_pressure_Pa(depth_mm / 1000.0, liquid_kg_per_m3=slurry) / 1000.0,
            "kPa",
            _HEAD,
            "aci-347",
            {"slurry_kg_per_m3": slurry, "depth_mm": depth_mm},
        ),
        "bow_most_mm": from_shelf("boards", "bow_most_mm", "bow that is let pass"),
    }


def _straps(pour: StandingPour, depth_mm: float, force_N: float, formula: str) -> tuple[Strap, ...]:
    base_mm = pour.bed_level_mm
    if depth_mm < shelf.value("boards", "strap_one_below_mm").value:
        return (
            Strap(
                worked(
                    base_mm + depth_mm / 3.0,
                    "mm",
                    "bed level + a third of the liquid's height, where its force acts",
                    "hydrostatics",
                    {"bed_level_mm": base_mm, "depth_mm": depth_mm},
                ),
                worked(force_N, "N", "all of the liquid's force", "hydrostatics"),
            ),
        )
    shares = [shelf.value("boards", f"strap_{name}_fraction") for name in ("low", "high")]
    heights_mm = [share.value * depth_mm for share in shares]
    pulls = strap_pull_N(force_N, depth_mm / 1000.0, heights_mm[0] / 1000.0, heights_mm[1] / 1000.0)
    return tuple(
        Strap(
            worked(
                base_mm + height_mm,
                "mm",
                "bed level + share of the liquid's height",
                "practice",
                {"bed_level_mm": base_mm, "depth_mm": depth_mm, "share": share.value},
                low=base_mm + share.low * depth_mm,
                high=base_mm + share.high * depth_mm,
            ),
            worked(
                pull_N,
                "N",
                f"{formula}: upper = F (h / 3 - y1) / (y2 - y1), lower = F - upper",
                "hydrostatics",
                {
                    "force_newtons": force_N,
                    "depth_mm": depth_mm,
                    "low_mm": heights_mm[0],
                    "high_mm": heights_mm[1],
                },
            ),
        )
        for share, height_mm, pull_N in zip(shares, heights_mm, pulls, strict=True)
    )


def _joint_below(pour: StandingPour, sides: str) -> str:
    if pour.aside:
        return (
            f"Between the {sides} and the closed pieces: smear clay along the joint inside, and close their "
            "seams with clay from outside."
        )
    if pour.order > 1:
        return (
            f"Between the {sides} and the first piece: smear clay along the joint inside, level with its "
            "face."
        )
    if pour.bed_level_mm > 0.0:
        return "Between bed and form: press the bed's edge to the sides with a thumb."
    return "Under the object's rim on the board: a thin clay bead, wiped flush."


def _band_cautions(band: Band) -> tuple[str, ...]:
    sprung = "A rolled strip stores force: strap it before you let go, and open it away from your face."
    if band.material != "steel":
        return (sprung,)
    edges = (
        "Sheet metal cuts. Fold or tape its edges, file off burrs, wear gloves that resist cuts, and keep "
        "the "
        "free end where no hand wipes."
    )
    return (edges, sprung)


def _too_short(pour: StandingPour, least_mm: float, length_mm: float, brief: Brief) -> Finding:
    longest = max(brief.bands, key=lambda band: (band.height_mm, band.length_mm))
    return Finding(
        id="band_too_small",
        severity="stop",
        where=f"form of piece {pour.piece}",
        says=f"None of the studio's bands go twice round {pour.inside_mm[0]:g} mm at a height of "
        f"{math.ceil(least_mm)} mm; the highest is {longest.length_mm:g} × {longest.height_mm:g} mm.",
        remedy=f"Get a band of {math.ceil(length_mm)} × {math.ceil(least_mm)} mm or more, or ask for "
        "--shape boxed.",
        amount=Amount(least_mm, "mm"),
    )
