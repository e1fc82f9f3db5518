"""Sentences of the bench pages: where places lie, how the pose is set, how seam, gate and bed are made."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from claybed.materials import shelf
from claybed.sheets.gate_plug import has_plug, is_upright, on_top, upright_plug_words
from claybed.sheets.holding_words import pack_words
from claybed.sheets.plug_laps import lap_words, laps_of
from claybed.sheets.side_words import bed_at_fillers, beside_gate, listed, seam_at_fillers
from claybed.units import say_length
from claybed.wording import inches_at_most, rough_mass, ruler

# Nearer to the middle than this share of the half width, a place is called neither left nor right.
MIDDLE_SHARE = 0.2
# A seam that meets the plug this near to half its height runs on level.
LEVEL_MM = 1.0
# Boards, clamps, a brick on edge and a thumb beside the form.
BASE_ROOM_MM = 100.0
# A seam that may stray less than this is named on the pages.
STRICT_MM = 1.0
# Of the stations whose seam may hardly stray, so many at most are named.
MOST_STRICT = 3
# And only those that allow less than this share of what the others do.
MUCH_LESS = 0.7
NONE_MM = 0.05
# A place that reaches farther up and down than this is no point.
BLUNT_MM = 3.0


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
        if is_upright(plan):
            where = on_top(place_words(gate["at_mm"], plan["mold"]["outer_mm"]))
            return f"The gate, the way in for slip, is on top, {where}."
        side = side_of(gate["at_mm"], plan["mold"]["outer_mm"])
        return f"The gate, the way in for slip, is at the {side}."
    return ""


def base_size(plan: Mapping[str, Any], us: bool) -> str:
    """How large a board the work stands on: the form, its sides and room to press clay against them."""
    outer = plan["mold"]["outer_mm"]
    sides = outer[:2] if len(outer) == 3 else [outer[0], outer[0]]
    return " × ".join(ruler(side + 2.0 * BASE_ROOM_MM, us) for side in sides)


def base_words(plan: Mapping[str, Any], us: bool) -> str:
    """Where the chart lies."""
    size = base_size(plan, us)
    return (
        f"Tape the chart, its front towards you, in the middle of the base board (flat, level, varnished, "
        f"{size} or more), under clear film or tape against wet clay. All heights are told from this board."
    )


def in_plane(plan: Mapping[str, Any]) -> bool:
    """Whether oil clay brings the seam of a plan into one plane."""
    options = plan["survey"].get("options") or [{}]
    return options[0].get("plane_mm") is not None


def pose_words(plan: Mapping[str, Any], us: bool) -> list[str]:
    """How the object is brought into its pose, and how near is near enough."""
    pose = plan.get("pose") or {}
    if not pose:
        return ["Lay the object in the pose of the picture."]
    if pose["on_board"]:
        packed = pack_words(plan, us)
        if packed:
            return [
                packed,
                "Then turn it over and stand it on the board, open face down, in the middle of the chart, "
                "and press it down until its rim meets the board all round.",
            ]
        return ["Stand the object on the board, open face down, in the middle of the chart."]
    says: list[str] = []
    saddles = pose.get("saddles") or []
    if saddles:
        one, two = saddles
        says.append(
            f"Push {one['id']} and {two['id']} together at their slots and stand them on the chart's dashed "
            "lines, their ends as marked. Lower the object onto them until it sits in both, turned as in "
            "“The object as it lies”. They stay in the bed. Slide it until a square held upright against it "
            f"comes down on the chart's line, all round; {over_chart_words()} off is near enough."
        )
    else:
        says.append(
            f"Lay a level pad of clay {ruler(pose['pad_mm'], us)} thick and press the object onto it, "
            "its outline on that of the chart."
        )
    says.append(
        f"Stand a square on the board and measure up it to each place; {near_words(plan, us)} off is near "
        "enough."
    )
    hold = plan["pours"][0].get("hold") or {}
    if plan["object"].get("floats_in_slurry") and hold.get("seeping_up_g") and not filled_to_sink(plan):
        says.append("Where a screw keeps it down, drive it in again now.")
    return says


def filled_to_sink(plan: Mapping[str, Any]) -> bool:
    """Whether an object is known to be hollow, and to sink once it is filled: no screw is needed then."""
    hold = plan["pours"][0].get("hold") or {}
    return bool(hold.get("room_ml")) and any(b.get("fits") for b in hold.get("ballast") or [])


def pose_mended(plan: Mapping[str, Any]) -> list[str]:
    """How heights of the pose are read, and what is done when one is off; empty where none are read."""
    pose = plan.get("pose") or {}
    if pose.get("on_board") or not pose.get("landmarks"):
        return []
    shave = " All too high: shave the cards. All too low: pad it with clay." if pose.get("saddles") else ""
    return [
        "Of two heights, a flat face reaches from one to the other, and a round one touches the square "
        "between them: bring it to the middle. Where card and reading disagree, the reading counts. Left "
        "too high and right too low, or the other way round: it is rolled; roll it back. Front or back off: "
        "it is tipped; push a wedge of clay under the low end." + shave
    ]


def height_words(mark: Mapping[str, Any], us: bool) -> str:
    """Height of a place of the pose; of a blunt one, between which heights a square touches it."""
    height = ruler(mark["height_mm"], us)
    if mark["high_mm"] - mark["low_mm"] <= BLUNT_MM:
        return height
    low, high = (ruler(mark[end], us) for end in ("low_mm", "high_mm"))
    return f"{low.rsplit(' ', 1)[0]} to {high}"


def over_chart_words() -> str:
    """How far something may lie off the chart or its level, in mm: text of the sheet turns it into inches."""
    return f"{shelf.value('practice', 'pose_over_chart_mm').value:g} mm"


def near_words(plan: Mapping[str, Any], us: bool) -> str:
    """How far off a height of the pose may be."""
    near_mm = (plan.get("pose") or {}).get("near_mm", 2.0)
    return inches_at_most(near_mm) if us else f"{near_mm:.2g} mm"


def openings(plan: Mapping[str, Any]) -> list[int]:
    """The seam lines that run round an opening of the object: the bed meets the object all round there."""
    stations = (plan.get("pose") or {}).get("stations") or []
    lines = sorted({s["line"] for s in stations})
    return [n for n in lines if not any(s["at_form"] for s in stations if s["line"] == n)]


def seam_words(plan: Mapping[str, Any], us: bool) -> list[str]:
    """With what and along what the seam is drawn, and how far the line may stray."""
    pose = plan["pose"]
    stations = pose["stations"]
    says = ["Wipe it dry. Draw a thin line, with a pencil where it is matt, with a china marker on glaze."]
    if pose["level"]:
        height = ruler(stations[0]["seam_mm"], us)
        says.append(
            f"The seam, where the pieces will meet, is level, {height} above the board all round. Lay the "
            f"pencil on a block so low that its point is at {height}, and slide it round the object."
        )
        if openings(plan):
            says.append(
                "In the opening, where no block goes in, mark that height with a strip of card cut to it, "
                "and join the marks."
            )
    else:
        says += _strips(plan)
        low, high = (ruler(f(s["seam_mm"] for s in stations), us) for f in (min, max))
        says.append(f"The seam runs between {low} and {high} above the board.")
    return [*says, *seam_at_fillers(plan), straying(stations, us, level=bool(pose["level"]))]


def _strips(plan: Mapping[str, Any]) -> list[str]:
    """How each strip is set up: round the outside, and inside each opening."""
    stations = plan["pose"]["stations"]
    inner = openings(plan)
    lines = sorted({s["line"] for s in stations})
    saddles = plan["pose"].get("saddles") or []
    ends = {}
    for line in lines:
        numbers = [s["number"] for s in stations if s["line"] == line]
        ends[line] = f"{numbers[0]} to {numbers[-1]}"
    outer = [line for line in lines if line not in inner]
    says = []
    if outer:
        name = _listed("strip", outer) if len(lines) > 1 else "the seam strip"
        gate = ", beginning beside the gate" if has_plug(plan) and len(outer) == 1 else ""
        says.append(
            f"Stand {name} round the outside on the chart's line, touching the object, print outwards, the "
            f"numbers at those of the chart ({', '.join(ends[line] for line in outer)}){gate}. Crease into "
            "narrow places, tape it, and draw along the upper edge."
        )
    for line in inner:
        over = " Its slots go over the saddle." if saddles else ""
        says.append(
            f"Then bend strip {line} to a ring, print inwards, and stand it inside the opening "
            f"({ends[line]}); draw there too.{over}"
        )
    says.append("Then take the strips away." if len(lines) > 1 else "Then take the strip away.")
    return says


def _listed(name: str, numbers: Sequence[int]) -> str:
    """ "strip 1", "strips 1 and 2", "strips 1, 2 and 3"."""
    told = [str(number) for number in numbers]
    if len(told) == 1:
        return f"{name} {told[0]}"
    return f"{name}s {', '.join(told[:-1])} and {told[-1]}"


def straying(stations: Sequence[Mapping[str, Any]], us: bool, *, level: bool) -> str:
    """How far the line may stray: what nearly all stations allow, and the few that allow less, which way.

    A `level` seam has no strip to keep to, but a height. Where many stations allow nothing their table tells.
    """
    kept = "that height" if level else "the strip"
    stray = {s["number"]: min(s["stray_up_mm"], s["stray_down_mm"]) for s in stations}
    ways = {s["number"]: (s["stray_up_mm"], s["stray_down_mm"]) for s in stations}
    if max(stray.values()) < NONE_MM:
        # A seam along an edge.
        one = {side: all(way[k] < NONE_MM for way in ways.values()) for k, side in enumerate(("up", "down"))}
        way = next((side for side, none in one.items() if none and not all(one.values())), "up or down")
        return f"The line may not stray {way}: keep to the edge that it follows, and rub out what is off."
    strict = sorted((n for n in stray if stray[n] < STRICT_MM), key=lambda n: stray[n])[:MOST_STRICT]
    if len(strict) == len(stray):
        strict = strict[:1]
    usual = min(mm for n, mm in stray.items() if n not in strict)
    while strict and stray[strict[-1]] > MUCH_LESS * usual:
        usual = stray[strict.pop()]
    if usual < NONE_MM:
        return (
            "At several stations the line may not stray up, or down, or both: how far it may at each stands "
            f"in the table “Stations round the seam”. Keep to {kept}, and rub out what is off."
        )
    says = f"The line may stray {_tenths(usual, us)} up or down"
    if not strict:
        return f"{says}."
    alike: dict[str, list[str]] = {}
    for n in sorted(strict):
        alike.setdefault(_only(ways[n], usual, us), []).append(str(n))
    told = [f"{only} at {'stations' if at[1:] else 'station'} {listed(at)}" for only, at in alike.items()]
    return f"{says}, but {listed(told)}: keep to {kept} there, and rub out what is off."


def _only(way_mm: tuple[float, float], usual_mm: float, us: bool) -> str:
    """How far up and down a line may stray where it may less than usual."""
    if max(way_mm) < NONE_MM:
        return "not at all"
    less = [
        (mm, "not" if mm < NONE_MM else f"only {_tenths(mm, us)}".replace("only less", "less"), name)
        for mm, name in zip(way_mm, ("up", "down"), strict=True)
        if mm < MUCH_LESS * usual_mm
    ]
    if len(less) == 2 and less[0][1] == less[1][1]:
        return f"{less[0][1]} up or down"
    return " and ".join(f"{much} {name}" for _, much, name in less)


def _tenths(mm: float, us: bool) -> str:
    if mm > 20.0:
        return "as you like"
    return inches_at_most(mm) if us else say_length(mm)


def plug_words(plan: Mapping[str, Any], us: bool) -> str:
    """Where the plug is set and sealed, and how the seam runs over it; empty where there is none."""
    gate = plan["mold"].get("gate") or {}
    if not has_plug(plan):
        return ""
    if is_upright(plan):
        return upright_plug_words(plan, us, place_words(gate["at_mm"], plan["mold"]["outer_mm"]))
    side = side_of(gate["at_mm"], plan["mold"]["outer_mm"])
    at_mm = gate["at_mm"][2] - ((plan.get("pose") or {}).get("board_mm") or 0.0)
    stations = (plan.get("pose") or {}).get("stations") or []
    inner = openings(plan)
    beside = beside_gate([s for s in stations if s["line"] not in inner], gate["at_mm"])
    ends = f" from stations {beside[0]['number']} and {beside[1]['number']}" if len(beside) > 1 else ""
    level = all(abs(station["seam_mm"] - at_mm) < LEVEL_MM for station in beside)
    slope = "at" if level else "sloping to"
    seam = (
        f"Draw the seam on along both its sides{ends} to its outer end, {slope} half its height, "
        f"{ruler(at_mm, us)} above the board."
    )
    sealed = (
        "Once the form stands, its end must meet the side: close a gap with oil clay. It stays in for every "
        "pour."
    )
    if gate["kind"] == "mouth":
        return f"It is on the mouth already, at the {side}; water clay under it holds it up. {seam} {sealed}"
    fitted = "over" if lap_words(laps_of(gate), us) else "against"
    return (
        f"It goes in at the {side} as on the chart, its narrow end {fitted} the object with a ring of oil "
        f"clay round it, its wide end where the form will stand, level, its middle {ruler(at_mm, us)} up; "
        f"water clay under it holds it, the ring is coated too. {seam} {sealed}"
    )


def bed_words(plan: Mapping[str, Any], us: bool) -> list[str]:
    """How the bed is built, with heights up from the board, and what is checked when it is packed."""
    bed, pose = plan["bed"], plan.get("pose") or {}
    stations = pose.get("stations") or []
    says = []
    if stations:
        low, high = bed_edge_mm(pose)
        square = "for a finger's width square to its side"
        drawn = "" if pose.get("level") else ": drawn at the foot of “The object as it lies”"
        up = ruler(low, us) if high - low < 1.0 else f"{ruler(low, us)} to {ruler(high, us)}"
        says.append(
            f"Pack {rough_mass(bed['clay_g'], us=us)} of soft water clay under and around the object up to "
            f"the line you drew, tight against it, {square}, out to the chart's outline, where it stands "
            f"{up} above the board{drawn}."
        )
        says += bed_at_fillers(plan)
        if openings(plan):
            says.append("Fill the opening, as inside a handle, with bed clay too, level with the line in it.")
        if pose.get("bed_cards"):
            names = ", ".join(str(card["station"]) for card in pose["bed_cards"])
            says.append(
                f"Bed cards {names} go up before the clay, one after the other, their middle on their dashed "
                "lines: bring the clay beside each to its top, draw it out, close the slot. At the object "
                f"the drawn line holds, at the outline the cards; slope the clay between, never overhanging."
            )
        if not pose.get("on_board"):
            says.append(f"Measure the highest place again ({near_words(plan, us)}).")
    else:
        says += bed.get("steps") or []
    keys = pose.get("keys") or []
    if keys:
        key = keys[0]
        ball = say_length(key["ball_mm"], us=True) if us else f"{key['ball_mm']:.1f} mm"
        says.append(
            f"Smooth with rib and damp sponge. Lay the second chart on the bed round object and plug, slit "
            f"where it will not lie flat, prick the middles of its {len(keys)} circles, cut the edge upright "
            "along the lower chart's outline with a knife, lift it off. Make a key at each prick: stand the "
            f"key card on the bed and turn it, or press a ball of {ball}, {ruler(key['depth_mm'], us)} deep."
        )
    else:
        says.append("Smooth with rib and damp sponge; cut the edge upright with a knife along the outline.")
    return says


def steep_words(pose: Mapping[str, Any], us: bool) -> str:
    """Where the seam climbs steeply, by stations and heights: "8/9 from 79 to 54 mm"; empty for none."""
    told = []
    for place in pose.get("steep") or []:
        names = dict.fromkeys(str(place[key]) for key in ("first", "last"))
        begin, end = (ruler(place[key], us) for key in ("first_mm", "last_mm"))
        told.append(f"{'/'.join(names)} from {begin.rsplit(' ', 1)[0]} to {end}")
    return ", ".join(told)


def bed_edge_mm(pose: Mapping[str, Any]) -> tuple[float, float]:
    """The least and the largest height of the bed at the form, mm."""
    stations = pose["stations"]
    edge = [s for s in stations if s["at_form"]] or stations
    return min(s["bed_mm"] for s in edge), max(s["bed_mm"] for s in edge)
