"""Pages from templates: every value is escaped, figures are said in the visitor's units."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any, Final

from jinja2 import Environment, PackageLoader, StrictUndefined, pass_context
from jinja2.runtime import Context
from markupsafe import Markup, escape
from starlette.requests import Request
from starlette.responses import HTMLResponse

from claybed import __version__, wording
from claybed.assets.palette import piece_colour
from claybed.errors import InputError
from claybed.fill_line import coil_words
from claybed.trades import worth_telling
from claybed.units import say_area, say_length, say_mass, say_ratio, say_spread, say_time, say_volume
from claybed.web.page_words import on_the_page
from claybed.web.photo_words import in_the_app
from claybed.web.visiting import studio_of, visitor_of

SYSTEM_COOKIE: Final = "claybed_units"
STATE_WORDS: Final = {
    "planned": "planned",
    "poured": "poured, not yet dry",
    "drying": "drying",
    "ready": "ready to use",
    "resting": "resting",
    "retired": "retired",
}
_BARE_US: Final = {
    "height_mm": "in", "wall_mm": "in", "ware_wall_mm": "in", "gate_bore_mm": "in", "fired_height_mm": "in",
    "mass_g": "oz", "lift_kg": "lb", "max_fill_ml": "fl oz", "bucket_l": "gal", "fired_capacity_ml": "fl oz",
}  # fmt: skip
PHASES: Final = {
    "waiting": "waiting for its turn",
    "survey": "looking which way it leaves",
    "mold": "cutting the mold",
    "pours": "working out the pours",
    "proof": "putting it to the proof",
    "cases": "building the cases",
    "mouth": "closing the mouth",
    "turning": "getting it in hand",
    "reading": "reading the file",
    "warming": "preparing, once on this machine",
    "tidying": "cutting away the table and scraps",
    "mending": "closing holes",
    "comparing": "comparing two ways of closing them",
    "smoothing": "smoothing noise",
    "cells": "dividing the plaster",
    "casting": "letting the slip stand",
    "draining": "pouring the slip out",
    "thicker plaster": "the same with thicker plaster",
    "compiling": "preparing, once on this machine",
    "carving": "carving what the outlines leave",
    "drawing": "drawing",
    "writing": "writing sheets and files",
}


def us_of(request: Request) -> bool:
    """Whether this visitor reads inches and pounds."""
    chosen = request.cookies.get(SYSTEM_COOKIE)
    return chosen == "us" if chosen in ("us", "metric") else studio_of(request).settings.us


def page(
    request: Request, template: str, values: Mapping[str, Any] | None = None, *, status: int = 200
) -> HTMLResponse:
    """A whole page, or a part of one, from a template."""
    us = us_of(request)
    everything = {
        "request": request,
        "us": us,
        "visitor": visitor_of(request),
        "path": request.url.path,
        "version": __version__,
        "lan": studio_of(request).settings.lan,
        **(values or {}),
    }
    return HTMLResponse(_ENVIRONMENT.get_template(template).render(everything), status_code=status)


def number(text: str, what: str) -> float | None:
    """A plain number from a field of a form, with a point or a comma; None for an empty one."""
    plain = text.strip().replace(",", ".")
    if not plain:
        return None
    try:
        return float(plain)
    except ValueError:
        raise InputError(f"“{text[:40]}” is no {what}.", remedy="Type a number like 1.6.") from None


def with_units(typed: Mapping[str, Any], *, us: bool) -> dict[str, Any]:
    """What was typed into a form, where a bare number has the unit that the form shows beside it: in US
    units inches, ounces for a weight, pounds to lift, fluid ounces of clay, gallons of a bucket.
    """
    if not us:
        return dict(typed)
    bare = re.compile(r"\s*\d+([.,]\d+)?\s*")
    return {
        field: f"{value.strip()} {_BARE_US[field]}"
        if field in _BARE_US and isinstance(value, str) and bare.fullmatch(value)
        else value
        for field, value in typed.items()
    }


def figure(text: str) -> Markup:
    """A figure with its units smaller: "1 lb 7.1 oz", "26 15/16 in", "7.6 fl oz"."""
    parts: list[tuple[bool, list[str]]] = []
    for word in text.split():
        small = not any(letter.isdecimal() for letter in word)
        if parts and parts[-1][0] == small:
            parts[-1][1].append(word)
        else:
            parts.append((small, [word]))
    if len(parts) < 2:
        return escape(text)
    said = [Markup("<small>{}</small>" if small else "{}").format(" ".join(words)) for small, words in parts]
    return Markup("<span class=figure>{}</span>").format(Markup(" ").join(said))


@pass_context
def _mass(context: Context, grams: float | None) -> Markup:
    return Markup("–") if grams is None else figure(say_mass(float(grams), us=context["us"]))


@pass_context
def _length(context: Context, mm: float | None) -> Markup:
    return Markup("–") if mm is None else figure(say_length(float(mm), us=context["us"]))


@pass_context
def _stray(context: Context, mm: float) -> Markup:
    return figure(wording.inches_at_most(float(mm)) if context["us"] else say_length(float(mm)))


@pass_context
def _coil(context: Context, mm: float) -> Markup:
    return figure(coil_words(float(mm), us=context["us"]))


@pass_context
def _volume(context: Context, ml: float | None) -> Markup:
    return Markup("–") if ml is None else figure(say_volume(float(ml), us=context["us"]))


@pass_context
def _spread(context: Context, ml: float, figure: Mapping[str, Any]) -> str:
    """How far a volume may be off by the ends of its figure, "± 12 ml"; empty without them."""
    us = context["us"]
    return say_spread(ml, figure["low"], figure["high"], lambda amount: say_volume(amount, us=us))


@pass_context
def _area(context: Context, cm2: float | None) -> Markup:
    return Markup("–") if cm2 is None else figure(say_area(float(cm2), us=context["us"]))


@pass_context
def _said(context: Context, text: str) -> str:
    return on_the_page(wording.in_system(text, us=context["us"]))


@pass_context
def _against_limit(context: Context, check: Mapping[str, Any]) -> str:
    """What a check measured, and the limit it stands against."""
    return wording.against_limit(check, us=context["us"])


def _piece_in(where: str) -> str:
    """The letter of the first piece that a place names; "" when it names none."""
    found = re.search(r"\bpiece ([A-Z])\b", where)
    return found[1] if found else ""


def _when(text: str | None) -> Markup:
    """A kept time as the reader's browser shows it, in UTC until its script has run."""
    if not text:
        return Markup("–")
    moment = datetime.fromisoformat(text.replace("Z", "+00:00")).astimezone(UTC)
    shown = f"{moment:%d %b %Y %H:%M} UTC"
    return Markup('<time datetime="{}">{}</time>').format(text, shown)


def _day(text: str | None) -> Markup:
    """The day of a kept time, as the reader's browser writes days."""
    if not text:
        return Markup("–")
    moment = datetime.fromisoformat(text.replace("Z", "+00:00")).astimezone(UTC)
    return Markup('<time datetime="{}" data-day>{}</time>').format(text, f"{moment:%d %b %Y}")


def _around(points: Sequence[tuple[float, float]], wide: int, high: int) -> str:
    """The view box of a square round an outline in a photo of `wide` by `high` pixels."""
    xs, ys = [x for x, _ in points], [y for _, y in points]
    side = min(1.3 * max(max(xs) - min(xs), max(ys) - min(ys)), wide, high)
    x = min(max(0.0, (min(xs) + max(xs) - side) / 2.0), wide - side)
    y = min(max(0.0, (min(ys) + max(ys) - side) / 2.0), high - side)
    return f"{x:.0f} {y:.0f} {side:.0f} {side:.0f}"


def _environment() -> Environment:
    made = Environment(
        loader=PackageLoader("claybed.web", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters |= {
        "worth_telling": worth_telling,
        "mass": _mass,
        "length": _length,
        "stray": _stray,
        "coil": _coil,
        "volume": _volume,
        "spread": _spread,
        "said": _said,
        "against_limit": _against_limit,
        "area": _area,
        "around": _around,
        "minutes": lambda minutes: figure(say_time(float(minutes))),
        "ratio": say_ratio,
        "when": _when,
        "day": _day,
        "leaves": wording.pull_words,
        "in_the_app": in_the_app,
        "state": lambda name: STATE_WORDS.get(name, name),
    }
    made.globals |= {
        "piece_colour": piece_colour,
        "check_words": wording.check_words,
        "spread_words": wording.spread_words,
        "phases": PHASES,
        "piece_in": _piece_in,
    }
    return made


_ENVIRONMENT: Final = _environment()
