"""What stands beside the 3D view: weights, pieces, checks and findings as plain HTML that needs no script."""

from __future__ import annotations

import html
import re
from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

from claybed import wording
from claybed.assets.palette import piece_colour
from claybed.fill_line import down_words
from claybed.hole_words import cut_words
from claybed.units import say_length, say_mass, say_volume

TICK = '<span aria-hidden="true">✓</span>'
CROSS = '<span aria-hidden="true">✗</span>'


def status(plan: Mapping[str, Any], *, us: bool = False) -> str:
    """One line: ready or not, with every reason that stops it."""
    if plan["ready"]:
        then = "Read the findings first." if plan["findings"] else f"All {len(plan['checks'])} checks hold."
        return f'<p class="status good"><b>{TICK} Ready to pour.</b> {then}</p>'
    ids = [str(c["id"]) for c in plan["checks"]]
    stops = [f for f in plan["findings"] if f["severity"] == "stop"]
    said = [str(f["id"]) for f in stops]
    told = wording.against_limit
    why = [
        f"{wording.check_words(str(c['id']), ids)}: {told(c, us=us)}. {c.get('remedy') or ''}"
        for c in plan["checks"]
        if not c["ok"] and not wording.stops_twice(str(c["id"]), said)
    ]
    why += [f"{f['says']} {f.get('remedy') or ''}" for f in stops]
    items = "".join(f"<li>{escape(wording.in_system(w.strip(), us=us))}</li>" for w in why)
    return f'<div class="status bad"><b>NOT READY TO POUR</b><ul>{items}</ul></div>'


def tables(plan: Mapping[str, Any], *, us: bool = False) -> str:
    """Pours, pieces, mold, holes to cut, findings and checks, in the order of work."""
    return "".join(part(plan, us) for part in (_pours, _pieces, _mold, _cuts, _findings, _checks))


def letters(ids: Sequence[str]) -> str:
    """One box to tick per piece, with its colour and letter, and one for the model."""
    boxes = "".join(
        f'<label class="tick"><input type=checkbox checked data-part="{k}"> '
        f'<span class="swatch" style="background:{piece_colour(k)}">{escape(letter)}</span> '
        f"piece {escape(letter)}</label>"
        for k, letter in enumerate(ids)
    )
    model = '<label class="tick"><input type=checkbox checked data-part="model"> model and seam</label>'
    return boxes + model


def marks(scene: Mapping[str, Any]) -> str:
    """A box to tick for the plaster's wall and one for the bed's heights, where there are any."""
    named = (("wall", "plaster wall"), ("heights", "bed heights"))
    return "".join(
        f'<label class="tick"><input type=checkbox id="{key}"> {words}</label>'
        for key, words in named
        if scene[key]
    )


def legends(scene: Mapping[str, Any], *, us: bool = False) -> str:
    """What the colours of the wall and the numbers on the seam mean; hidden until they are shown."""
    said = ""
    wall = scene["wall"]
    if wall:
        ends = [say_length(wall[key], us=us) for key in ("low", "high")]
        step = say_length(wall["step"], us=us)
        steps = "".join(f'<i style="background:{colour}"></i>' for colour in wall["ramp"])
        said += (
            f'<p class="legend" id="wall-legend" hidden>Plaster from the cavity to the outside: '
            f'{escape(ends[0])} <span class="ramp" aria-hidden="true">{steps}</span> {escape(ends[1])}, '
            f"a line every {escape(step)}. The thinnest place is marked.</p>"
        )
    if scene["heights"]:
        said += (
            '<p class="legend" id="heights-legend" hidden>Each flag: number of the station, and how high the '
            f"seam stands there above the board of the first pour, in {'inches' if us else 'mm'}. Build the "
            "bed to it; from start or side, only the near ones are shown.</p>"
        )
    return said


def told_wall(wall: dict[str, Any] | None, *, us: bool = False) -> dict[str, Any] | None:
    """The wall with its least and most in words, for the marks in the picture."""
    if wall is None:
        return None
    words = {key: say_length(wall[end], us=us) for key, end in (("thin_says", "low"), ("thick_says", "high"))}
    return wall | words


def heights(plan: Mapping[str, Any], *, us: bool = False) -> list[dict[str, Any]]:
    """The stations on the seam: number, place (block frame, mm), way out in plan, and height to build to."""
    pose = plan.get("pose") or {}
    told = []
    for station in pose.get("stations") or ():
        (x, y), (fx, fy) = station["at_mm"], station["form_at_mm"]
        seam_mm = float(station["seam_mm"])
        told.append(
            {
                "number": int(station["number"]),
                "at": [x, y, seam_mm + float(pose["board_mm"])],
                "out": [fx - x, fy - y],
                "says": wording.ruler(seam_mm, us).rpartition(" ")[0],
            }
        )
    return told


def _lit(at: object, where: str, says: str) -> str:
    """A button that lights a place in the picture: by its middle (block frame, mm), or a piece by its
    letter; "" when there is neither.
    """
    data = ""
    if isinstance(at, Sequence) and len(at) == 3:
        data = f'data-at="{",".join(f"{float(v):.3f}" for v in at)}"'
    elif piece := re.search(r"\bpiece ([A-Z])\b", where):
        data = f'data-piece="{piece[1]}"'
    if not data:
        return ""
    return f' <button type="button" class="place" {data} data-says="{escape(says)}">Show where</button>'


def _pours(plan: Mapping[str, Any], us: bool) -> str:
    pours = "".join(_pour(p, k, us) for k, p in enumerate(plan["pours"], 1))
    return f"<section><h2>Pours</h2>{pours}</section>"


def _pour(pour: Mapping[str, Any], number: int, us: bool) -> str:
    line = pour.get("fill_line") or {"from_board_mm": pour["fill_line_mm"], "from_rim_mm": None}
    where = f"{_figure(wording.ruler(line['from_board_mm'], us))} up from the board"
    if line["from_rim_mm"] is not None:
        where += f", {_figure(down_words(line, us))} down from the rim"
    buckets = len(pour["batches"])
    several = ""
    if buckets > 1:
        several = f'<p class="quiet">In {buckets} buckets; weights for each are on the bench sheet.</p>'
    weights = "".join(
        f'<div><dt>{name}</dt><dd class="big">{_figure(say_mass(pour[key], us=us))}</dd></div>'
        for name, key in (("Water", "water_g"), ("Plaster", "plaster_g"))
    )
    head = f'<p class="quiet">Pour {number} {_letter(pour["piece"])}</p>'
    return f'<div class="pour">{head}<dl>{weights}</dl><p>Fill line {where}.</p>{several}</div>'


def _cuts(plan: Mapping[str, Any], us: bool) -> str:
    rows = "".join(f"<li>{escape(says)}</li>" for says in cut_words(plan, us=us))
    return rows and f"<section><h2>Cut in the leather-hard ware</h2><ul>{rows}</ul></section>"


def _pieces(plan: Mapping[str, Any], us: bool) -> str:
    rows = "".join(_piece(p, us) for p in plan["pieces"])
    numbers = "".join(f"<th scope=col class=n>{name}" for name in ("plaster", "wet", "dry"))
    head = f"<tr><th scope=col>Piece<th scope=col>leaves{numbers}</tr>"
    return f"<section><h2>Pieces</h2><table>{head}{rows}</table></section>"


def _piece(piece: Mapping[str, Any], us: bool) -> str:
    figures = (
        say_volume(piece["volume_ml"], us=us),
        say_mass(piece["wet_kg"] * 1000.0, us=us),
        say_mass(piece["dry_kg"] * 1000.0, us=us),
    )
    cells = "".join(f"<td class=n>{_figure(text)}</td>" for text in figures)
    leaves = escape(wording.pull_words(piece.get("leaves") or piece["pull"]))
    return f"<tr><th scope=row>{_letter(piece['id'])}</th><td>{leaves}</td>{cells}</tr>"


def _mold(plan: Mapping[str, Any], us: bool) -> str:
    mold, survey = plan["mold"], plan.get("survey") or {}
    unit = " in" if us else " mm"
    sides = " × ".join(wording.ruler(v, us).removesuffix(unit) for v in mold["outer_mm"])
    outer = f"{'Ø ' if mold['shape'] == 'round' else ''}{sides}{unit}"
    rows = [("Closed mold", outer), ("Least plaster wall", wording.ruler(mold["wall_mm"], us))]
    if mold["seam_length_mm"] > 0.0:
        rows.append(("Seam, all round", wording.ruler(mold["seam_length_mm"], us)))
    if survey.get("fill_g"):
        rows.append(("Oil clay to fill", say_mass(survey["fill_g"], us=us)))
    body = "".join(f"<tr><th scope=row>{k}</th><td class=n>{_figure(v)}</td></tr>" for k, v in rows)
    return f"<section><h2>Mold</h2><table>{body}</table></section>"


def _findings(plan: Mapping[str, Any], us: bool) -> str:
    order = {"stop": 0, "look": 1, "note": 2}
    found = sorted(plan["findings"], key=lambda f: order.get(f["severity"], 3))
    rows = "".join(_finding(f, us, _spots(plan) if f["id"] == "fewest_pieces" else "") for f in found)
    return f'<section><h2>Findings</h2><ul class="plain">{rows}</ul></section>' if rows else ""


def _spots(plan: Mapping[str, Any]) -> str:
    """A button for each spot that bears witness, draft's after the others; "" when there are none."""
    place = plan["mold"].get("object_to_block")
    survey = plan.get("survey") or {}
    spots = [spot["at_mm"] for spot in (survey.get("witness") or {}).get("spots") or ()]
    spots += filter(None, [(survey.get("drafted") or {}).get("wall_mm")])
    buttons = []
    for k, spot in enumerate(spots if place else ()):
        at = [
            sum(a * b for a, b in zip(place[f"row_{axis}"], spot, strict=True)) + place["shift_mm"][n]
            for n, axis in enumerate("xyz")
        ]
        mark = wording.spot_mark(k)
        buttons.append(_lit(at, "", f"spot {mark}").replace("Show where", f"Show {mark}"))
    return "".join(buttons)


def _finding(finding: Mapping[str, Any], us: bool, lit: str = "") -> str:
    """One finding; `lit` are the buttons that show its places, its own when there are none."""
    severity = str(finding["severity"])
    mark = escape(wording.SEVERITIES.get(severity, severity))
    given = (str(finding.get(key) or "") for key in ("says", "where", "remedy"))
    says, where, remedy = (escape(wording.in_system(text, us=us)) for text in given)
    says = says or escape(wording.spelled(str(finding["id"])))
    place = f'<span class="quiet">({where})</span> ' if where else ""
    lit = lit or _lit(finding.get("at_mm"), str(finding.get("where") or ""), html.unescape(says))
    return f'<li class="{escape(severity)}"><b>{mark}.</b> {says} {place}{remedy}{lit}</li>'


def _checks(plan: Mapping[str, Any], us: bool) -> str:
    checks = plan["checks"]
    if not checks:
        return ""
    ids = [str(c["id"]) for c in checks]
    failed = "".join(_check(c, wording.check_words(str(c["id"]), ids), us) for c in checks if not c["ok"])
    families: dict[str, list[Mapping[str, Any]]] = {}
    for c in checks:
        if c["ok"]:
            families.setdefault(wording.check_family(str(c["id"])), []).append(c)
    held = "".join(_family(name, members, us) for name, members in families.items())
    count = sum(bool(c["ok"]) for c in checks)
    rows = f'<ul class="plain">{failed}{held}</ul>'
    return f"<section><h2>Checks, {count} of {len(ids)} hold</h2>{rows}</section>"


def _family(name: str, members: Sequence[Mapping[str, Any]], us: bool) -> str:
    if len(members) == 1:
        return _check(members[0], name, us)
    every = f'<span class="quiet">{len(members)} checks</span>'
    return f'<li class="good"><b>{TICK} holds</b> {escape(name)} {every}</li>'


def _check(check: Mapping[str, Any], words: str, us: bool) -> str:
    ok = bool(check["ok"])
    mark = f"{TICK} holds" if ok else f"{CROSS} FAILS"
    where = f", {check['where']}" if check["where"] else ""
    measured = escape(wording.against_limit(check, us=us) + wording.in_system(where, us=us))
    remedy = "" if ok else f" {escape(wording.in_system(str(check.get('remedy') or ''), us=us))}"
    kind = "good" if ok else "bad"
    lit = _lit(check.get("at_mm"), str(check["where"]), f"{words}: {html.unescape(measured)}")
    said = f'<b>{mark}</b> {escape(words)} <span class="quiet">{measured}</span>'
    return f'<li class="{kind}">{said}{remedy}{lit}</li>'


def _letter(letter: object) -> str:
    return f'<span class="letter">{escape(str(letter))}</span>'


def _figure(text: str) -> str:
    number, _, unit = text.rpartition(" ")
    return f"{escape(number)}&thinsp;<small>{escape(unit)}</small>" if number else escape(text)
