"""Sentences of the bench pages: where places lie, how the pose is set, how seam, gate and bed are made."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from claybed.units import MM_PER_IN
from claybed.wording import clay_words, on_rule, rough_mass, ruler, tilt_words

# Nearer to the middle than this share of the half width, a place is called neither left nor right.
MIDDLE_SHARE = 0.2
# Boards, clamps and a thumb beside the form.
BASE_ROOM_MM = 80.0


def side_of(at_mm: Sequence[float], outer_mm: Sequence[float]) -> str:
    """Which side of the form a plan place (block's frame, mm) is nearest to: front, back, left or right."""
    half_x = outer_mm[0] / 2.0
    half_y = (outer_mm[1] if len(outer_mm) == 3 else outer_mm[0]) / 2.0
    share_x, share_y = at_mm[0] / half_x, at_mm[1] / half_y
    if abs(share_x) > abs(share_y):
        return "right" if share_x > 0.0 else "left"
    return "back" if share_y > 0.0 else "front"


def place_words(at_mm: Sequence[float], outer_mm: Sequence[float]) -> str:
    """A plan place in words: "front left", "right", "middle"."""
    half_x = outer_mm[0] / 2.0
    half_y = (outer_mm[1] if len(outer_mm) == 3 else outer_mm[0]) / 2.0
    words = []
    if abs(at_mm[1]) > MIDDLE_SHARE * half_y:
        words.append("back" if at_mm[1] > 0.0 else "front")
    if abs(at_mm[0]) > MIDDLE_SHARE * half_x:
        words.append("right" if at_mm[0] > 0.0 else "left")
    return " ".join(words) or "middle"


def front_words(plan: Mapping[str, Any]) -> str:
    """Which way round everything is told."""
    gate = plan["mold"].get("gate") or {}
    if gate.get("kind") in ("bore", "mouth") and gate.get("at_mm"):
        side = side_of(gate["at_mm"], plan["mold"]["outer_mm"])
        return f"The gate, the way in for slip, is at the {side}."
    return ""


def base_words(plan: Mapping[str, Any], us: bool) -> str:
    """How large a board the work stands on: the form, its sides and room to press clay against them."""
    outer = plan["mold"]["outer_mm"]
    sides = outer[:2] if len(outer) == 3 else [outer[0], outer[0]]
    size = " × ".join(ruler(side + 2.0 * BASE_ROOM_MM, us) for side in sides)
    return (
        f"Tape the chart, its front towards you, on a flat, level, sealed base board of {size} or more, "
        "under clear film or tape against wet clay. All heights are told from this board."
    )


def fill_words(plan: Mapping[str, Any], us: bool) -> list[str]:
    """What is filled and scraped before the bed: each numbered place with grams, height and side."""
    spots = (plan.get("pose") or {}).get("fill") or []
    outer = plan["mold"]["outer_mm"]
    says: list[str] = []
    places: list[str] = []
    small = 0
    for spot in spots:
        if not spot["number"] or spot["lock_class"] == "ignore":
            small += spot["lock_class"] != "ignore"
            continue
        places.append(
            f"{spot['number']}: {clay_words(spot['clay_g'], us=us)}, {place_words(spot['at_mm'], outer)}, "
            f"{ruler(spot['height_mm'], us)} above the board, {on_rule(spot['depth_mm'], us=us)} deep"
        )
    if places:
        says.append(
            "Press oil clay into the numbered places of the picture on the first page, flush with the "
            f"surface (sides and heights are told of its pose in the form; try it in the saddles first): "
            f"{'; '.join(places)}."
        )
    if small:
        where = "one hatched spot" if small == 1 else f"{small} hatched spots"
        it = "it is" if small == 1 else "they are"
        says.append(f"Smear a film of oil clay over {where} in the picture; {it} too small to weigh.")
    if not spots:
        says.append("No place on it has to be filled with clay.")
    return says


def pose_words(plan: Mapping[str, Any], us: bool) -> list[str]:
    """How the object is brought into its pose."""
    pose = plan.get("pose") or {}
    if not pose:
        return ["Lay the object in the pose of the picture."]
    if pose["on_board"]:
        return ["Stand the object on the board, open face down, in the middle of the chart."]
    says: list[str] = []
    saddles = pose.get("saddles") or []
    if saddles:
        one, two = saddles
        says += [
            f"Push {one['id']} and {two['id']} together at their slots and stand them on the chart's dashed "
            "lines. Lower the object onto them until it sits in both. They stay in the bed.",
        ]
    else:
        says.append(
            f"Lay a level pad of clay {ruler(pose['pad_mm'], us)} thick and press the object onto it, "
            "its outline on that of the chart."
        )
    says.append(
        "Measure up from the board along a square (in brackets, from where to where a blunt place reaches); "
        "shift or pack it until every height is right:"
    )
    tilt = tilt_words(pose.get("tilt_deg"))
    if tilt:
        says.append(f"Leaning by {tilt} it would lock.")
    return says


def seam_words(plan: Mapping[str, Any], us: bool) -> list[str]:
    """How the seam is drawn, and how far the pencil may stray."""
    pose = plan["pose"]
    stations = pose["stations"]
    stray = [min(s["stray_up_mm"], s["stray_down_mm"]) for s in stations]
    tight = min(range(len(stray)), key=stray.__getitem__)
    # The line is held to what all stations but the tightest allow, so that nobody has to look each up.
    usual = sorted(stray)[min(1, len(stray) - 1)]
    if pose["level"]:
        height = ruler(stations[0]["seam_mm"], us)
        says = [
            f"The seam, where the pieces will meet, is level, {height} above the board all round. Lay a "
            "pencil on a block of that height and slide it round the object."
        ]
    else:
        low, high = (ruler(f(s["seam_mm"] for s in stations), us) for f in (min, max))
        says = [
            f"The seam rises and falls between {low} and {high} above the board; the chart tells it at "
            f"{len(stations)} stations. Stand the seam strip on the board round "
            "the object, number to number, and draw along its upper edge.",
        ]
    where = f"station {stations[tight]['number']}"
    if stray[tight] < 0.05:
        says.append(
            f"The line may stray {_tenths(usual, us)} up or down, but not at all at {where}: there it is the "
            "object's own edge."
        )
    else:
        says.append(
            f"The line may stray {_tenths(usual, us)} up or down, at {where} only "
            f"{_tenths(stray[tight], us)}."
        )
    return says


def _tenths(mm: float, us: bool) -> str:
    if mm > 20.0:
        return "as you like"
    if us:
        return f"{mm / MM_PER_IN:.2f} in"
    return f"{mm:.1f} mm" if mm < 9.95 else f"{mm:.0f} mm"


def gate_words(plan: Mapping[str, Any], us: bool) -> list[str]:
    """How the plug that leaves the gate is made; empty where the object itself makes it."""
    gate = plan["mold"].get("gate") or {}
    if not has_plug(plan):
        return []
    if gate["kind"] == "mouth":
        return [
            "Close the object's mouth with a disc of card, skimmed level with the brim in oil clay. On it "
            "build the gate plug from oil clay: as wide as the mouth at the brim, and out to where the form "
            "will stand, a little wider there, as the chart shows it. It keeps the way open for slip, and "
            "gets release with the object."
        ]
    bore = ruler(gate["bore_mm"], us)
    return [
        f"Make the gate plug on its template from oil clay or wood, {bore} across where it meets the object. "
        "It keeps a way open for slip. Wood is sealed; either gets release with the object."
    ]


def has_plug(plan: Mapping[str, Any]) -> bool:
    """Whether something must keep the gate open while plaster is poured round it, in a bed."""
    gate = plan["mold"].get("gate") or {}
    if not gate.get("at_mm"):
        return False
    return gate.get("kind") == "bore" or (gate.get("kind") == "mouth" and bool(plan.get("bed")))


def plug_words(plan: Mapping[str, Any]) -> str:
    """Where the plug is set; empty where the object itself makes the gate."""
    gate = plan["mold"].get("gate") or {}
    if not has_plug(plan):
        return ""
    side = side_of(gate["at_mm"], plan["mold"]["outer_mm"])
    if gate["kind"] == "mouth":
        return (
            f"It stands on the mouth already, at the {side}. Draw the seam on along it. It stays in for "
            "every pour."
        )
    return (
        f"Set it at the {side} as on the chart, its middle at the height of the seam, its end where the form "
        "will stand: on a pad of water clay, stuck to the object with oil clay. It stays in for every pour."
    )


def bed_words(plan: Mapping[str, Any], us: bool) -> list[str]:
    """How the bed is built, with heights from both ends."""
    bed, pose = plan["bed"], plan.get("pose") or {}
    stations = pose.get("stations") or []
    says = []
    if stations:
        edge = [s for s in stations if s["at_form"]] or stations
        low, high = min(s["bed_mm"] for s in edge), max(s["bed_mm"] for s in edge)
        rim = pose["rim_mm"]
        up = ruler(low, us) if high - low < 1.0 else f"{ruler(low, us)} to {ruler(high, us)}"
        down_low, down_high = rim - high, rim - low
        down = ruler(down_low, us) if high - low < 1.0 else f"{ruler(down_low, us)} to {ruler(down_high, us)}"
        says.append(
            f"Pack {rough_mass(bed['clay_g'], us=us)} of water clay under and around the object up to the "
            "pencil line, tight against it and square to it, out to the chart's outline. There it stands "
            f"{up} above the board ({down} down from a straightedge on the rim)."
        )
        if pose.get("bed_cards"):
            names = ", ".join(str(card["station"]) for card in pose["bed_cards"])
            says.append(
                f"Bed cards {names} stand at the stations of those numbers while you pack: bring the clay to "
                "their tops, draw them out and close the slots. Where the seam climbs, slope the clay evenly "
                "from card to card."
            )
    else:
        says += bed.get("steps") or []
    keys = pose.get("keys") or []
    if keys:
        key = keys[0]
        ball = on_rule(key["ball_mm"], us=True) if us else f"{key['ball_mm']:.1f} mm"
        says.append(
            f"Lay the second chart on the bed, prick the middles of its "
            f"{len(keys)} circles, and make a key at each: press a ball of {ball} in "
            f"{ruler(key['depth_mm'], us)} deep "
            f"({ruler(key['diameter_mm'], us)} across), or turn the key card there."
        )
    says.append("Smooth with rib and damp sponge; cut the edge upright along the chart's outline.")
    return says
