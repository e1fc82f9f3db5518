"""The words of screen, page and paper: what a check is called, what a piece's pull is, and the cautions.

Sentences are what a colleague would say. An id that is not listed here is still printed, spelled out.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from claybed.records.finding import ABOVE_FOOT
from claybed.units import (
    G_PER_OZ,
    ML_PER_US_FL_OZ,
    MM_PER_IN,
    say_inches,
    say_length,
    say_mass,
    say_spread,
    say_temperature,
    say_volume,
)

# A height as places of a plan tell it, in the frame of the closed block.
HEIGHT = re.compile(rf"(-?\d+(?:\.\d+)?) {ABOVE_FOOT}")
# What such heights are told from where no sheet stands beside them.
BOARD = "the board of the first pour"

# By how the check's id begins; what follows names the piece. The longest beginning wins.
CHECKS: Mapping[str, str] = {
    "case_bolts_hold": "Bolts of the case hold",
    "case_closed": "Every part of the case is a closed solid",
    "case_cores_leave": "Loose cores can be drawn",
    "case_filled": "Plastic and plaster fill the case",
    "case_fits_printer": "Every part fits the printer",
    "case_joints_tight": "Joints of the case stay closed",
    "case_lies_flat": "Every part lies flat on the bed",
    "case_loose_filled": "Loose keys and cores fill their places",
    "case_no_undercut": "The case has no undercut",
    "case_one_body": "Every part is one body",
    "case_parts_whole": "The parts together are the case",
    "case_pieces_close": "The piece closes on the others",
    "case_release": "The piece leaves its case",
    "case_slot_filled": "Blocks form the finger slots",
    "case_slot_release": "Blocks of finger slots can be drawn",
    "case_slot_wall": "Finger slots leave enough plaster",
    "case_wall_stiff": "Walls stand against liquid plaster",
    "cement_case_closed": "The case of cement is a closed solid",
    "cement_case_release": "The working mold leaves its case",
    "file_closed": "The file, read elsewhere, is a closed solid",
    "adjoins": "Surfaces lie on one another without a gap",
    "air": "No air is trapped",
    "drain": "The mold drains",
    "edge": "No edge too sharp to last",
    "file_on_lattice": "Files keep every coordinate",
    "file_stands": "Every file holds its own solid, where it was",
    "file_twin": "3MF and STL are the same solid",
    "file_whole": "Files read back whole",
    "gate": "The gate stays open",
    "gate_spares_object": "The gate leaves the object its shape",
    "keep_out": "No seam where none may run",
    "keys": "Keys sit firmly",
    "keys_close_one_way": "Keys close one way only",
    "lift": "Weight to lift",
    "liftable": "Every piece can be lifted",
    "model_leaves_last": "The model leaves last",
    "model_true": "The model keeps the object's shape",
    "none_goes_elsewhere": "No piece goes in another's place",
    "walls_have_draft": "Every wall has its draft",
    "one_body": "Every solid is one body",
    "pieces_overlap": "Pieces do not overlap",
    "slip_drains": "Slip runs out again",
    "plates": "No thin plates of plaster",
    "release": "Pieces leave along their pulls",
    "seam_angle": "No knife edges at the seam",
    "side_seam_angle": "No knife edges where side pieces begin",
    "solid_closed": "Every solid is closed",
    "tongue": "No thin tongues of plaster",
    "volumes": "Volumes add up",
    "volumes_fill_block": "Pieces and model fill the block",
    "wall": "Plaster is thick enough all round",
}
IN_FILES = "file_"
IN_FILES_TAIL = ", in the files"

SEVERITIES: Mapping[str, str] = {"stop": "Stop", "look": "Look", "note": "Note"}

# The largest tilt that is tried: a model that stands it need not be levelled.
MOST_TILT_DEG = 10.0

# Findings that tell more than the check of the same matter.
SAYS_THE_SAME: Mapping[str, Sequence[str]] = {"liftable": ("lift_over_limit",)}

LOCK_CLASSES: Mapping[str, str] = {
    "ignore": "nothing to do",
    "scrape": "scrape or soften",
    "fill": "close with oil clay",
}

UNITS: Mapping[str, str] = {"deg": "°", "mm2": "mm²", "mm3": "mm³", "cm2": "cm²", "percent": "%", "-": ""}
ONE_OF: Mapping[str, str] = {"bodies": "body", "edges": "edge", "faults": "fault", "keys": "key"}
_US: Mapping[str, tuple[float, str]] = {
    "mm": (1.0 / MM_PER_IN, "in"),
    "mm2": (MM_PER_IN**-2, "in²"),
    "mm3": (MM_PER_IN**-3, "in³"),
    "ml": (1.0 / ML_PER_US_FL_OZ, "fl oz"),
    "g": (1.0 / G_PER_OZ, "oz"),
    "kg": (1000.0 / (16.0 * G_PER_OZ), "lb"),
}
# Smaller than any inch rule and any thousandth shows.
LEAST_IN_INCHES_MM = 0.0127
# A number and its unit apart, as sentences have them; "30mm" in the name of an option stays.
# Numbers before it that share its unit go with it: "185 × 245 mm", "15 to 25 °C".
_METRIC = re.compile(
    r"(?<![\w.\-])(?:[Uu]nder )?((?:\d+(?:\.\d+)?[ \u00a0](?:×|to)[ \u00a0])*)(\d+(?:\.\d+)?)[ \u00a0]"
    r"(mm|ml|l|kg|g|°C)(?![\w²³])"
)
# Kilograms told to a tenth were not meant for the scale.
_ROUGH = re.compile(r"\d+\.\d")
SPOT_MARKS = ("I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X")
NUMBERS = (
    *("no", "one", "two", "three", "four", "five", "six"),
    *("seven", "eight", "nine", "ten", "eleven", "twelve"),
)
# A place told by several numbers under one unit: "near 2, -113, 153 mm".
_METRIC_PLACE = re.compile(r"(?<![\w.\-])(-?\d+(?:\.\d+)?(?:, -?\d+(?:\.\d+)?)+)[ \u00a0]mm(?![\w²³])")


def unit_words(unit: str) -> str:
    """A unit as it is read: "mm3" becomes "mm³"; one that is not listed stays."""
    return UNITS.get(unit, unit)


def amount(value: float, unit: str, *, us: bool = False) -> tuple[float, str]:
    """A measured value with its unit in words: (1, "bodies") reads 1 body, and with `us` mm become in.

    Angles, shares and counts are the same in both systems.
    """
    if us and unit in _US:
        factor, name = _US[unit]
        return value * factor, name
    if value == 1.0 and unit in ONE_OF:
        return value, ONE_OF[unit]
    return value, unit_words(unit)


def in_system(text: str, *, us: bool) -> str:
    """A sentence with lengths, volumes, masses and temperatures as the US bench reads them; unchanged for
    metric.
    """
    if not us:
        return text
    said = _METRIC.sub(_us_figure, _METRIC_PLACE.sub(_us_place, text))
    return said.replace("about under ", "under ")


def _us_place(found: re.Match[str]) -> str:
    inches = (float(number) / MM_PER_IN for number in found[1].split(", "))
    return f"{', '.join(f'{number:z.1f}' for number in inches)} in"


def _us_figure(found: re.Match[str]) -> str:
    value, unit = float(found[2]), found[3]
    if unit == "mm" and value < LEAST_IN_INCHES_MM:
        return found[0]
    said = _us_amount(value, unit, rough=_ROUGH.fullmatch(found[2]) is not None)
    for number, sign in reversed(re.findall(r"([\d.]+).(×|to)", found[1])):
        before = _us_amount(float(number), unit, rough=False)
        if before.rpartition(" ")[2] == said.rpartition(" ")[2] and unit in ("mm", "°C"):
            before = before.rpartition(" ")[0]
        said = f"{before} {sign} {said}"
    if found[0][:6].casefold() == "under ":
        return found[0][:6] + said.removeprefix("under ")
    return said


def _us_amount(value: float, unit: str, *, rough: bool) -> str:
    if unit == "mm":
        return say_length(value, us=True)
    if unit == "°C":
        return say_temperature(value, us=True)
    if unit == "kg" and rough:
        return rough_mass(1000.0 * value, us=True)
    if unit in ("ml", "l"):
        return say_volume(value * (1000.0 if unit == "l" else 1.0), us=True)
    return say_mass(value * (1000.0 if unit == "kg" else 1.0), us=True)


def check_family(check_id: str) -> str:
    """What checks of one kind are called together: "release_A" and "release_B" share a name."""
    return _family_and_rest(check_id)[0]


def check_words(check_id: str, all_ids: Sequence[str]) -> str:
    """What a check is called; `all_ids` are the ids on the same sheet, so that two never read alike."""
    family, rest, tail = _family_and_rest(check_id)
    namesakes = sum(check_family(other) == family for other in all_ids)
    if namesakes < 2 or not rest:
        return f"{family}{tail}"
    subject = "the model" if rest == "model" else f"piece {rest}" if len(rest) < 3 else spelled(rest).lower()
    return f"{family}{tail}: {subject}"


def about(family: str, said: Sequence[str]) -> str:
    """What the checks of one family were made on: "piece A, piece B, the model; again in the files".

    `said` are their names as `check_words` gives them.
    """
    subjects: list[str] = []
    again = False
    for words in said:
        rest = words.removeprefix(family)
        again |= rest.startswith(IN_FILES_TAIL)
        subject = rest.removeprefix(IN_FILES_TAIL).removeprefix(": ")
        if subject and subject not in subjects:
            subjects.append(subject)
    joined = ", ".join(subjects)
    return joined if not again else f"{joined}; again in the files" if joined else "again in the files"


def _family_and_rest(check_id: str) -> tuple[str, str, str]:
    code, tail = check_id.replace(".", "_"), ""
    known = [start for start in CHECKS if code == start or code.startswith(f"{start}_")]
    if not known and code.startswith(IN_FILES):
        code, tail = code.removeprefix(IN_FILES), IN_FILES_TAIL
        known = [start for start in CHECKS if code == start or code.startswith(f"{start}_")]
    if not known:
        return spelled(check_id), "", ""
    start = max(known, key=len)
    return CHECKS[start], code.removeprefix(start).strip("_"), tail


def spelled(code: str) -> str:
    """A snake_case code as words: "edge_acute" becomes "Edge acute"; a trailing unit is left off."""
    words = re.sub(r"_(mm|mm2|mm3|ml|g|kg|deg|cm2|rel|percent)$", "", code)
    words = re.sub(r"[._]+", " ", words).strip()
    return words[:1].upper() + words[1:]


def against_limit(check: Mapping[str, Any], *, us: bool = False) -> str:
    """What a check of plan.json measured, and the limit it stands against: "35.0 mm, at least 35.0 mm"."""
    bound = "at least" if check.get("sense") == "least" else "at most"
    unit = str(check["unit"])
    return f"{_shown(check['measured'], unit, us)}, {bound} {_shown(check['limit'], unit, us)}"


def _shown(value: float, unit: str, us: bool) -> str:
    number, said = amount(float(value), unit, us=us)
    # Nobody reads 2.02e+03 kg at a bench.
    text = f"{number:.0f}" if 1000.0 <= abs(number) < 1e7 else f"{number:.3g}"
    return f"{text}{said}" if said == "°" else f"{text} {said}".strip()


def ruler(mm: float, us: bool) -> str:
    """A length to be read off a ruler: whole millimetres, or inches as a rule shows them."""
    if us:
        return f"{'-' if mm < 0.0 else ''}{say_inches(abs(mm))}"
    return f"{round(mm)} mm"


def inches_at_most(mm: float) -> str:
    """How far something may be off, as the mark of an inch rule that is not over it."""
    for marks in (16, 32, 64):
        if reached := math.floor(mm / MM_PER_IN * marks):
            return say_inches(MM_PER_IN * reached / marks) if marks == 16 else f"{reached}/{marks} in"
    return "less than 1/64 in"


def rough_mass(grams: float, *, us: bool = False) -> str:
    """A mass that is fetched or lifted, not weighed out: to 0.1 kg or half a pound from about 1 kg up."""
    if us:
        halves = round(grams / (8.0 * G_PER_OZ))
        if halves < 2:
            return say_mass(grams, us=True)
        whole, rest = divmod(halves, 2)
        return f"{whole} 1/2 lb" if rest else f"{whole} lb"
    return f"{grams / 1000.0:.1f} kg" if grams >= 950.0 else say_mass(grams)


def clay_words(grams: float, *, us: bool = False) -> str:
    """A little oil clay as a fine scale shows it: tenths of a gram below ten."""
    if us or grams >= 9.95:
        return say_mass(grams, us=us)
    return f"{grams:.1f} g" if grams >= 0.05 else "a crumb"


def fill_finish(in_plane: bool) -> str:
    """How oil clay is finished where it closes what locks, or brings the seam into one plane as well."""
    return "upright along the outline, up to the bed's level" if in_plane else "flush with the surface"


def tilt_words(tilt_deg: float | None) -> str:
    """How upright the model must stand, in degrees; "" when any careful hand will do or none would."""
    if tilt_deg is None or not 0.0 < tilt_deg < MOST_TILT_DEG:
        return ""
    return f"{tilt_deg:.2g}°"


def stops_twice(check_id: str, finding_ids: Collection[str]) -> bool:
    """Whether a stopping finding has already said what a failed check would say again."""
    return any(finding in SAYS_THE_SAME.get(check_id, ()) for finding in finding_ids)


def pull_words(pull: Sequence[float]) -> str:
    """Where a piece leaves to, in words: straight up, straight down, or sideways with the direction."""
    x, y, z = (float(v) for v in pull)
    length = math.sqrt(x * x + y * y + z * z)
    if length < 1e-9:
        return "not given"
    up = math.degrees(math.asin(max(-1.0, min(1.0, z / length))))
    if abs(up) > 89.0:
        return f"straight {'up' if up > 0.0 else 'down'}"
    turn = math.degrees(math.atan2(y, x)) % 360.0
    ways = ("right", "back right", "back", "back left", "left", "front left", "front", "front right")
    eighth = round(turn / 45.0)
    sideways = f"to the {ways[eighth % 8]}"
    if abs(turn - 45.0 * eighth) >= 1.0:
        sideways = f"{turn:.0f}° round from the right"
    if abs(up) < 1.0:
        return sideways
    return f"{sideways}, {abs(up):.0f}° {'up' if up > 0 else 'down'}"


def object_sentences(found: Mapping[str, Any]) -> list[str]:
    """What is to be said of the object beside its measures: unit, mouth, floating, repairs."""
    says: list[str] = []
    unit, how = found.get("unit"), found.get("measured")
    if isinstance(how, Mapping):
        says.append(str(how["says"]))
    elif isinstance(unit, Mapping) and unit.get("says"):
        says.append(str(unit["says"]))
    if found.get("mouth"):
        says.append("The mouth is closed by a surface across the rim, so plaster stays out of the vessel.")
    if found.get("floats_in_slurry"):
        more = "" if found.get("floats_in_water") else " although it sinks in water"
        says.append(f"It floats in liquid plaster{more}: fix it down before the pour.")
    says += [str(r["says"]) for r in found.get("repairs") or [] if isinstance(r, Mapping) and r.get("says")]
    return says


def spread_words(plan: Mapping[str, Any], place: int, *, us: bool) -> str:
    """How far water and plaster of the pour at `place` may be off because the object's volume is, in one
    sentence; empty for an object taken at its word."""
    band = (plan["object"].get("measured") or {}).get("band") or {}
    if not any(band.values()):
        return ""
    off = []
    for key in ("water_g", "plaster_g"):
        figure = plan["figures"][f"/pours/{place}/{key}"]
        value = float(plan["pours"][place][key])
        off.append(say_spread(value, figure["low"], figure["high"], lambda grams: say_mass(grams, us=us)))
    return f"Water {off[0]}, plaster {off[1]}, as well as object and plaster are known."


def count_word(count: int) -> str:
    """A small count as a word: 2 -> "two"; larger ones as digits."""
    return NUMBERS[count] if 0 <= count < len(NUMBERS) else str(count)


def spot_mark(place: int) -> str:
    """The mark of a spot that bears witness, by its place from 0 to 9: a numeral that no fill place has."""
    return SPOT_MARKS[place]


def in_a_row(words: Sequence[str]) -> str:
    """Words as a sentence lists them: "I, II and III"."""
    return " and ".join(filter(None, (", ".join(words[:-1]), *words[-1:])))


def heights_from_board(text: str, pose: Mapping[str, Any] | None, *, board: str = "the board") -> str:
    """A sentence on places of the closed block with their heights told of the board of the first pour, as all
    other heights are, and that named `board`; of the block's foot without the `pose` of a plan.
    """
    if not pose or pose.get("on_board"):
        return text
    return HEIGHT.sub(lambda found: f"{float(found[1]) - pose['board_mm']:.0f} mm above {board}", text)


def from_board(document: Mapping[str, Any]) -> dict[str, Any]:
    """A plan whose checks and findings tell heights as its bench sheet does; see `heights_from_board`."""
    pose = document.get("pose")

    def told(row: Mapping[str, Any]) -> Mapping[str, Any]:
        said = {name: str(row[name]) for name in ("where", "says", "remedy") if row.get(name)}
        return {**row, **{name: heights_from_board(text, pose, board=BOARD) for name, text in said.items()}}

    return {**document, **{key: [told(row) for row in document[key]] for key in ("checks", "findings")}}
