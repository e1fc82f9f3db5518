"""Boards around a boxed pour: which, how far they reach, what they bear, how far they bend."""

from __future__ import annotations

import math

from claybed.bench.density import slurry_kg_per_m3
from claybed.bench.telling import worked
from claybed.materials import shelf
from claybed.physics.forms import plate_bulge_m3, strip_deflection_m, strip_thickness_m
from claybed.physics.pressure import board_force_N, head_pressure_Pa
from claybed.records.bench import BoardUse
from claybed.records.brief import Brief
from claybed.records.finding import Amount, Finding
from claybed.records.standing import StandingPour
from claybed.records.studio import BoardSet
from claybed.units import say_length


def board_use(
    board: BoardSet, neighbour: BoardSet, inside_mm: float, depth_mm: float, brief: Brief
) -> BoardUse:
    """One pair of boards: reach past the corner, force, bow and bulge. Reads `consistency`."""
    slurry = slurry_kg_per_m3(brief.consistency)
    modulus = shelf.value("boards", f"{board.material}_modulus_GPa")
    pressure_Pa = head_pressure_Pa(depth_mm / 1000.0, liquid_kg_per_m3=slurry)
    given: dict[str, float | str] = {
        "inside_mm": inside_mm,
        "depth_mm": depth_mm,
        "thickness_mm": board.thickness_mm,
        "modulus_GPa": modulus.value,
    }

    def _bow_mm(modulus_GPa: float) -> float:
        return 1000.0 * strip_deflection_m(
            pressure_Pa,
            inside_mm / 1000.0,
            thickness_m=board.thickness_mm / 1000.0,
            modulus_Pa=1e9 * modulus_GPa,
        )

    bulge = None
    if 0.5 <= inside_mm / depth_mm <= 3.0:
        bulge_m3 = plate_bulge_m3(
            inside_mm / 1000.0,
            depth_mm / 1000.0,
            thickness_m=board.thickness_mm / 1000.0,
            modulus_Pa=1e9 * modulus.value,
            liquid_kg_per_m3=slurry,
        )
        bulge = worked(1e6 * bulge_m3, "ml", "mean bow of the board x its wetted area", "plate-table", given)
    return BoardUse(
        set=board.name,
        count=worked(2, "-", "one on each side", "geometry"),
        length_mm=worked(
            board.length_mm, "mm", owned(board.name, "inside, neighbour's thickness and clamp"), "asked"
        ),
        height_mm=worked(board.height_mm, "mm", owned(board.name, "fill line and freeboard"), "asked"),
        thickness_mm=worked(board.thickness_mm, "mm", owned(board.name, "usual"), "asked"),
        inside_mm=worked(inside_mm, "mm", "side of the block", "geometry"),
        past_corner_mm=worked(
            board.length_mm - inside_mm - neighbour.thickness_mm,
            "mm",
            "length of the board - inside - thickness of the next board",
            "geometry",
            {
                "length_mm": board.length_mm,
                "inside_mm": inside_mm,
                "neighbour_thickness_mm": neighbour.thickness_mm,
            },
        ),
        force_newtons=worked(
            board_force_N(inside_mm / 1000.0, depth_mm / 1000.0, liquid_kg_per_m3=slurry),
            "N",
            "density of the slurry x g x inside x height of liquid² / 2",
            "hydrostatics",
            {"slurry_kg_per_m3": slurry, "inside_mm": inside_mm, "depth_mm": depth_mm},
        ),
        bow_mm=worked(
            _bow_mm(modulus.value),
            "mm",
            "5 x pressure at the base x span⁴ / (384 x modulus x thickness³ / 12), held at its ends only",
            "beam-theory",
            given,
            low=_bow_mm(modulus.high),
            high=_bow_mm(modulus.low),
        ),
        bulge_ml=bulge,
    )


def stiffening(
    uses: tuple[BoardUse, ...],
    boards: tuple[BoardSet, BoardSet],
    sides_mm: tuple[float, float],
    depth_mm: float,
    brief: Brief,
) -> tuple[str, tuple[Finding, ...]]:
    """What stiffens the boards when one bows more than is let pass, as a sentence and a finding."""
    most_mm = shelf.value("boards", "bow_most_mm").value
    worst = max((0, 1), key=lambda k: uses[k].bow_mm.number)
    bow_mm = uses[worst].bow_mm.number
    if bow_mm <= most_mm:
        return "", ()
    board, side_mm = boards[worst], sides_mm[worst]
    modulus_GPa = shelf.value("boards", f"{board.material}_modulus_GPa").value
    enough_mm = 1000.0 * strip_thickness_m(
        head_pressure_Pa(depth_mm / 1000.0, liquid_kg_per_m3=slurry_kg_per_m3(brief.consistency)),
        side_mm / 1000.0,
        bow_m=most_mm / 1000.0,
        modulus_Pa=1e9 * modulus_GPa,
    )
    spans = math.ceil((bow_mm / most_mm) ** 0.25)
    cleats = "a cleat" if spans == 2 else f"{spans - 1} cleats"
    says = (
        f"The boards along the {say_length(side_mm)} side bow up to {say_length(bow_mm)} near the base. "
        "Screw "
        f"{cleats} on their outside, upright, or strap over {'one' if spans == 2 else 'them'}; boards of "
        f"{math.ceil(enough_mm)} mm would do without."
    )
    finding = Finding(
        id="board_bends",
        severity="note",
        where=f"boards of {say_length(side_mm)}",
        says=says,
        remedy="A strap a third of the way up holds the base joint closed.",
        amount=Amount(bow_mm, "mm"),
    )
    return says, (finding,)


def boards_how(found: tuple[BoardSet, BoardSet], x_mm: float, y_mm: float) -> str:
    """How the boards are set up, as a sentence."""
    lengths = " and ".join(
        dict.fromkeys(f"{board.length_mm:g} × {math.ceil(board.height_mm):g} mm" for board in found)
    )
    return (
        f"Stand the boards ({lengths}) around it so that each butts against the next and runs past it at the "
        f"other end; set {say_length(x_mm)} × {say_length(y_mm)} inside with a ruler, corners square, then "
        "clamp."
    )


def too_small(pour: StandingPour, least_mm: float, brief: Brief, reach_mm: float) -> Finding:
    """None of the boards owned close the pour: the finding, with the nearest size that would."""
    thick_mm = max(board.thickness_mm for board in brief.boards)
    need_mm = max(pour.inside_mm) + thick_mm + reach_mm
    largest = max(brief.boards, key=lambda board: (board.height_mm, board.length_mm))
    return Finding(
        id="boards_too_small",
        severity="stop",
        where=f"form of piece {pour.piece}",
        says=f"None of the studio's boards close {pour.inside_mm[0]:g} × {pour.inside_mm[1]:g} mm to a "
        "height of "
        f"{math.ceil(least_mm)} mm; the highest are {largest.length_mm:g} × {largest.height_mm:g} mm.",
        remedy=f"Get four boards of {math.ceil(need_mm)} × {math.ceil(least_mm)} mm or more, or ask for a "
        "thinner "
        "--wall.",
        amount=Amount(least_mm, "mm"),
    )


def owned(name: str, why: str) -> str:
    """Where a size comes from: the studio's own, or the least that will do."""
    return f"as owned: {name}" if name else f"least that will do: {why}"
