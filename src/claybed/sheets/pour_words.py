"""Sentences of the bench pages about form, hold, release and what stands in a form already."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from claybed.fill_line import coil_words
from claybed.materials import shelf
from claybed.sheets.bench_words import side_of
from claybed.sheets.steps import strings
from claybed.units import ML_PER_US_GAL, MM_PER_IN, say_mass
from claybed.wording import ruler

# A pull that leans less than this from upright (its vertical share) leaves to a side.
UPRIGHT_SHARE = 0.9
# One that leans no more off a flat side than this (cosine) leaves a face that is level by eye.
LEVEL_SHARE = 0.9999
# The one rule for every coat of release.
BEADS = "Water flicked on the last coat must stand in beads; if it does not, brush on one more."
# How the sentences on a filler begin.
SIDE = "On the side to the "


def seals(step: Mapping[str, Any]) -> bool:
    """Whether a step of the release seals, by how long its coats wait. Source: materials/bench
    (seal_wait_least_min).
    """
    return (step.get("wait_min") or 0.0) >= shelf.value("bench", "seal_wait_least_min").value


def bucket_words(least_l: float, us: bool) -> str:
    """The least bucket, rounded up so that it still holds."""
    if us:
        whole, quarters = divmod(math.ceil(least_l * 1000.0 / ML_PER_US_GAL * 4.0), 4)
        parts = [str(whole)] if whole or not quarters else []
        return " ".join([*parts, *([str(Fraction(quarters, 4))] if quarters else []), "gal"])
    step_l = shelf.value("bench", "bucket_step_ml").value / 1000.0
    litres = math.ceil(least_l / step_l) * step_l
    return f"{litres:g} l"


def form_words(
    form: Mapping[str, Any], us: bool, *, again: bool, before: Mapping[str, Any] | None = None
) -> list[str]:
    """How the sides are set up and sealed; for boards of the first pour see also `held_words`.

    `again` for a later pour: what was told for the first is not told at length; `before` is the form of the
    pour before, whose boards may serve again.
    """
    says = [_boards(form, us, again) if form.get("boards") else str(form["how"])]
    if again and before and form.get("boards") and board_counts(before, us) == board_counts(form, us):
        says = [
            f"The same boards reach: stand them round it as before, {across(form['inside_mm'], us)} inside, "
            "square."
        ]
    if form.get("band") and again:
        flat = str(form["how"]).partition("not an oval.")[2].strip()
        says = [f"Roll the band as before, {across(form['inside_mm'], us)} inside, and strap it.", flat]
    if form.get("boards"):
        # What the form's own sentence adds to the boards: fillers, and what it stands around.
        more = str(form["how"]).partition(" then clamp.")[2].strip()
        if filler_words(form) and not again:
            one = filler_words(form).count("It keeps the place of") == 1
            more = more.replace(
                filler_words(form), f"Set the filler{'' if one else 's'} in that “Getting ready” tells of."
            ).strip()
        says += strings([more])
    if again or not form.get("boards"):
        says += _held(form, us, again)
    else:
        says.append("Clamp it, seal it and set bricks as told beside its drawing, “The form of each pour”.")
    if form.get("stiffen"):
        says.append(str(form["stiffen"]))
    leaks = [str(text) for text in form.get("leaks") or []]
    if again and len(leaks) > 1:
        return [
            *says,
            f"Seal it as before, with {coil_words(form['coil_mm'], us=us)} of clay coil. {leaks[-1]}",
        ]
    return says if form.get("boards") and not again else [*says, *_sealed(form, us)]


def held_words(form: Mapping[str, Any], us: bool) -> list[str]:
    """How the boards of the first pour are clamped, sealed and stopped, for beside their drawing; empty for
    another form.
    """
    if not form.get("boards"):
        return []
    held = _held(form, us, False)
    return [*held[:1], *_sealed(form, us), *held[1:]]


def _sealed(form: Mapping[str, Any], us: bool) -> list[str]:
    """Where coils of clay go; their length is told to the next tenth of a metre or half foot."""
    coil = coil_words(form["coil_mm"], us=us)
    leaks = [str(text) for text in form.get("leaks") or []]
    return [f"Seal every joint with {coil} of water clay, rolled as thick as a finger.", *leaks]


def filler_words(form: Mapping[str, Any]) -> str:
    """The sentences of a form on what keeps the place of a later piece; empty where none does."""
    how = str(form.get("how") or "")
    begin = how.find(SIDE)
    return how[begin:].strip() if begin >= 0 and "stand a filler" in how else ""


def _held(form: Mapping[str, Any], us: bool, again: bool) -> list[str]:
    """How many straps or clamps at which heights, where on the form, and how tight."""
    heights = [ruler(s["from_board_mm"], us) for s in form.get("straps") or []]
    if not heights:
        return []
    at = " and ".join(heights)
    if again:
        if from_the_rim(form):
            return ["Clamps over the rim and bricks at the foot as before."]
        what = "Straps as before" if form.get("band") else "Clamps and bricks as before, the clamps"
        return [f"{what}, {at} above the base board."]
    if form.get("band"):
        straps = "One strap goes" if len(heights) == 1 else f"{len(heights)} straps go"
        return [f"{straps} round it, {at} above the base board, so tight that a thumb cannot shift the band."]
    stop = "on the end that runs past, hard against the board that butts on it, which so cannot slide out"
    over = (
        "over the rim and down as far as it reaches" if from_the_rim(form) else f"{at} above the base board"
    )
    clamps = "A clamp goes" if len(heights) == 1 or from_the_rim(form) else "Clamps go"
    return [
        f"{clamps} on each corner, {over}, {stop}.",
        "Then a brick, standing on its long edge, goes against the outside of each board, close to the end "
        "that runs past, pressed into the coil: it stops that end. Push each board from inside with a hand: "
        "where one shifts, square it again and lay a second brick on the first. Long ends may hang over the "
        "base board.",
    ]


def from_the_rim(form: Mapping[str, Any]) -> bool:
    """Whether boards run so far past their corners that no clamp reaches in from their ends."""
    reach_mm = shelf.value("boards", "clamp_throat_mm").value
    return any(board["past_corner_mm"] > reach_mm for board in form.get("boards") or [])


def across(sides_mm: Sequence[float], us: bool) -> str:
    """Lengths off a ruler with one unit at their end: "185 × 245 mm"."""
    *first, last = (ruler(side, us) for side in sides_mm)
    return " × ".join([*(side.rsplit(" ", 1)[0] for side in first), last])


def _boards(form: Mapping[str, Any], us: bool, again: bool) -> str:
    thick = " or ".join(dict.fromkeys(ruler(board["thickness_mm"], us) for board in form["boards"]))
    listed = " and ".join(f"{count} of {size}" for size, count in board_counts(form, us).items())
    inside = across(form["inside_mm"], us)
    if again:
        return f"Stand boards round it in the same way: {listed}, {thick} thick, {inside} inside, square."
    return (
        f"Stand boards on edge round the {'bed' if form['bed_level_mm'] > 0.0 else 'object'} as drawn "
        f"({listed}, {thick} thick), each butting on the next, {inside} inside, both diagonals alike."
    )


def board_counts(form: Mapping[str, Any], us: bool) -> dict[str, int]:
    """How many boards of which length and height a form takes."""
    sizes: dict[str, int] = {}
    for board in form.get("boards") or []:
        size = across((board["length_mm"], math.ceil(board["height_mm"])), us)
        sizes[size] = sizes.get(size, 0) + int(board["count"])
    return sizes


def seal_words(plan: Mapping[str, Any]) -> str:
    """How an object that drinks is sealed; what to do if it does, where the plan does not know."""
    for step in (plan.get("release") or {}).get("steps", []):
        if seals(step):
            return (
                f"It drinks water, so seal it all over first: {step['coats_count']:.0f} thin coats of "
                f"{step['what']}, each dry before the next, and {step['wait_min'] / 60.0:.0f} hours after "
                "the last. A drop of water must stand on it."
            )
    return (
        "Put a drop of water on it, and where it is unglazed. Where it sinks in (dried gourd, wood, bisque, "
        "card), seal it with two or three thin coats of shellac or varnish, each dry before the next, and "
        "let it dry overnight. Where it stands, as on glaze, nothing is sealed."
    )


def release_words(plan: Mapping[str, Any], pour: int, part: str) -> list[str]:
    """What is released for a pour (from 1): only the "object", the "rest", or "all", the object first."""
    says: list[str] = []
    told: set[str] = set()
    form = plan["pours"][pour - 1].get("form") or {}
    sides = "the band" if form.get("band") else "the boards"
    steps = (plan.get("release") or {}).get("steps", [])
    for step in sorted(steps, key=lambda step: "object" not in str(step["where"])):
        about_object = "object" in str(step["where"])
        if step["pour"] != pour or (part != "all" and about_object != (part == "object")):
            continue
        if seals(step):
            continue
        coats = f"{step['coats_count']:.0f} thin coats of" if step["coats_count"] > 1 else "one thin coat of"
        wait = f", each left for {step['wait_min']:.0f} minutes" if step.get("wait_min") else ""
        how = f"{coats} {step['what']}{wait}"
        where = str(step["where"]).replace("boards or band", sides)
        again = "the same" if how in told else how
        says.append(f"On {where}: {again}. {step['says']}")
        told.add(how)
    if says and (part == "object" or pour > 1):
        says.append(BEADS)
    return says


def side_pieces(plan: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Pieces that leave to a side, in the order in which they are poured."""
    by_id = {piece["id"]: piece for piece in plan["pieces"]}
    found = (by_id.get(pour["piece"]) for pour in plan["pours"][1:])
    return [p for p in found if p is not None and abs(p["pull"][2]) < UPRIGHT_SHARE]


def side_depth_mm(plan: Mapping[str, Any], piece: str) -> float | None:
    """How much of the block a side piece takes along its pull, mm."""
    for pour in plan["pours"]:
        if pour["piece"] == piece:
            depth = (pour.get("form") or {}).get("depth_mm")
            return None if depth is None else float(depth)
    return None


def kept_places(plan: Mapping[str, Any], index: int, us: bool) -> list[str]:
    """How the place of a side piece is kept while the main pieces are poured (`index` from 0)."""
    says: list[str] = []
    if "filler" in str((plan["pours"][index].get("form") or {}).get("how")):
        # The form's own sentence tells it.
        return says
    for piece in side_pieces(plan):
        depth = side_depth_mm(plan, str(piece["id"]))
        if depth is None:
            continue
        side = side_of(piece["pull"], plan["mold"]["outer_mm"])
        if index == 0:
            letters = {str(p["id"]) for p in plan["pieces"]}
            keys = sum(
                k.get("bump_on") == piece["id"] or k.get("socket_in") == piece["id"]
                for k in plan["mold"].get("keys") or []
                if {k.get("bump_on"), k.get("socket_in")} <= letters
            )
            bumps = (
                f" Stick its {keys} keys, half balls of clay, on the face towards the object." if keys else ""
            )
            says.append(
                f"Piece {piece['id']} comes last, at the {side}. Keep its place with a filler: a "
                f"board in the form, set so that {ruler(depth, us)} behind it stay empty, square to the "
                f"way {piece['id']} leaves, and close every hollow of the object that reaches past it with "
                f"clay.{bumps}"
            )
        else:
            says.append(
                f"The filler of piece {piece['id']} goes in again, {ruler(depth, us)} "
                "from the outside, its clay in the hollows."
            )
    return says


def closed_words(plan: Mapping[str, Any], index: int, us: bool) -> list[str]:
    """What stands in the form of a side piece before it is poured (`index` from 0, two or more)."""
    pour = plan["pours"][index]
    piece = str(pour["piece"])
    form = pour.get("form") or {}
    before = [str(p["piece"]) for p in plan["pours"][:index]]
    others = ", ".join(before[:-1]) + f" and {before[-1]}"
    by_id = {p["id"]: p for p in plan["pieces"]}
    side = ""
    if piece in by_id and abs(by_id[piece]["pull"][2]) < UPRIGHT_SHARE:
        side = f" (told of the first pour, their {side_of(by_id[piece]['pull'], plan['mold']['outer_mm'])})"
    says = [
        f"Leave {others} closed round the object and strap them. Take out the board and the clay that kept "
        f"the place of {piece}, and wipe the faces clean.",
        f"Stand them on the base board with the open place of {piece} up{side}, level; pack clay under what "
        "does not stand by itself. Two people turn it.",
    ]
    if form.get("bed_level_mm"):
        # The pull slants to the block's flat sides, and so does the face across it.
        slants = piece in by_id and max(abs(by_id[piece]["pull"][k]) for k in (0, 1)) < LEVEL_SHARE
        lowest = " where they are lowest" if slants and len(plan["mold"]["outer_mm"]) == 3 else ""
        says.append(
            f"Their faces come to about {ruler(form['bed_level_mm'], us)} above the board{lowest}; {piece} "
            f"fills {ruler(form['depth_mm'], us)} above that."
        )
    return says


def per_mark(pour: Mapping[str, Any], us: bool) -> list[list[str]]:
    """Water and plaster for a millimetre (a sixteenth of an inch) more of each inside measure and of the
    line: name, what was planned, water, plaster.
    """
    per_mm, form = pour.get("grams_per_mm"), pour.get("form") or {}
    if not per_mm:
        return []
    rows = []
    wider = form.get("per_mm_wider_ml") or []
    names = ["across"] if len(wider) == 1 else ["left to right", "front to back"]
    for name, side_mm, more_ml in zip(names, form.get("inside_mm") or [], wider, strict=False):
        share = more_ml * 1000.0 / form["footprint_mm2"]
        rows.append([name, ruler(side_mm, us), *_weights(per_mm, share, us)])
    line_mm = float(pour["fill_line_mm"])
    rows.append(["line", ruler(line_mm, us), *_weights(per_mm, 1.0, us)])
    return rows


def _weights(per_mm: Mapping[str, float], share: float, us: bool) -> list[str]:
    return [_per_mark(per_mm[key] * share, us) for key in ("water", "plaster")]


def _per_mark(grams_per_mm: float, us: bool) -> str:
    if us:
        return say_mass(grams_per_mm * MM_PER_IN / 16.0, us=True)
    return f"{grams_per_mm:.0f} g"
