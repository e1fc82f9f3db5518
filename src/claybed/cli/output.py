"""How documents reach the screen: JSON, sentences, one table, findings, the next command."""

from __future__ import annotations

import json
import shlex
import sys
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

from claybed.wording import amount, check_words, count_word, in_system

if TYPE_CHECKING:
    from rich.console import Console

Row = Sequence[str]
_PLAIN_WIDTH: Final = 100
_GAP: Final = 3  # between two columns
_LEAST_SHARE: Final = 1e-4  # less of a direction moves a point a metre off by a tenth of a millimetre
_SEVERITY: Final = {"stop": ("Stop", "bold red"), "look": ("Look", "yellow"), "note": ("Note", "none")}


def print_json(document: Mapping[str, Any]) -> None:
    """Print `document` as JSON with unrounded figures; raises ValueError for a number that is not finite."""
    plain = (sys.stdout.encoding or "").casefold().replace("-", "") != "utf8"  # escapes survive any terminal
    text = json.dumps(document, indent=2, ensure_ascii=plain, allow_nan=False, default=_plain)
    sys.stdout.write(text + "\n")


def say(text: str, style: str = "none") -> None:
    """Print one sentence; on a terminal it wraps at words, elsewhere it stays on one line."""
    console = _console()
    console.print(text, style=style, markup=False, soft_wrap=not console.is_terminal)


def say_table(headings: Row, rows: Iterable[Row], *, left: int = 1) -> None:
    """Print one table: the first `left` columns ranged left, figures right; columns stand closer where the
    line would be too long.
    """
    from rich import box
    from rich.table import Table
    from rich.text import Text

    rows = list(rows)
    console = _console()
    wide = sum(max(len(row[k]) for row in (headings, *rows)) for k in range(len(headings)))
    pad = 1 if wide + _GAP * (len(headings) - 1) <= console.width else 0
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False, padding=(0, pad))
    for column, heading in enumerate(headings):
        table.add_column(Text(heading), justify="left" if column < left else "right", overflow="fold")
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    console.print()
    console.print(table)
    console.print()


def say_findings(findings: Iterable[Mapping[str, Any]], *, us: bool = False) -> None:
    """Print findings, the gravest first: severity in words, place, sentence and remedy."""
    order = list(_SEVERITY)
    for finding in sorted(findings, key=lambda one: order.index(one["severity"])):
        word, style = _SEVERITY[finding["severity"]]
        say(f"{word}: {finding_sentence(finding, us=us)}", style)


def stopping(findings: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Return the findings that are told as reasons of a plan that is not ready. That plaster would fill the
    inside of a vessel leads them: it is what most of the others come from, and one word mends it.
    """
    inside = [finding for finding in findings if finding["id"] == "hollow_ware"]
    return inside + [finding for finding in findings if finding["severity"] == "stop"]


def finding_sentence(finding: Mapping[str, Any], *, us: bool = False) -> str:
    """Return the sentence of a finding with its place, unless the sentence names it already, and its
    remedy.
    """
    says = str(finding.get("says") or words(str(finding["id"]))).strip()
    where = str(finding.get("where") or "").strip()
    if where and where.casefold() not in says.casefold():
        says = f"{says.rstrip('.')} ({where})."
    sentences = (_ended(says), _ended(str(finding.get("remedy") or "")))
    return in_system(" ".join(part for part in sentences if part), us=us)


def failed_sentences(
    checks: Sequence[Mapping[str, Any]], *, us: bool, hidden: Collection[str] = ()
) -> list[str]:
    """Return one sentence for each check that failed: what does not hold, what was measured where, what is
    needed, what to do.

    `checks` are all that were made, so that two of a kind are told apart; those in `hidden` are left out.
    """
    ids = [str(check["id"]) for check in checks]
    reasons = []
    for check in checks:
        if check["ok"] or check["id"] in hidden:
            continue
        measured, limit = (
            amount_words(check[key], str(check["unit"]), us=us) for key in ("measured", "limit")
        )
        bound = "at least" if check.get("sense") == "least" else "at most"
        place = f" at {check['where']}" if check["where"] else ""
        fact = f"“{check_words(str(check['id']), ids)}” does not hold: {measured}{in_system(place, us=us)}"
        remedy = in_system(str(check.get("remedy") or ""), us=us)
        reasons.append(f"{fact}, where it takes {bound} {limit}. {remedy}".strip())
    return reasons


def amount_words(value: float, unit: str, *, us: bool) -> str:
    """Return a measured value with its unit, to four digits."""
    number, name = amount(float(value), unit, us=us)
    return f"{number:.4g}{name}" if name == "°" else f"{number:.4g} {name}".strip()


def say_working(figures: Mapping[str, Mapping[str, Any]]) -> None:
    """Print how each figure came about: formula, inputs with their values, spread and source."""
    for pointer, figure in figures.items():
        given = figure.get("inputs", {}).items()
        inputs = ", ".join(f"{name} = {_figure_text(value)}" for name, value in given)
        low, high, unit = figure.get("low"), figure.get("high"), figure["unit"]
        known = low is not None and high is not None
        spread = f" From {_figure_text(low)} to {_figure_text(high)} {unit}." if known else ""
        with_inputs = f" with {inputs}" if inputs else ""
        # People count rows from 1.
        name = " ".join(str(int(p) + 1) if p.isdigit() else p for p in pointer.strip("/").split("/"))
        formula = str(figure["formula"]).removeprefix(f"{name.rpartition(' ')[2]} = ")
        say(f"{name} [{unit}]: {formula}{with_inputs}.{spread} Source: {figure['source']}.")


def say_next(*command: str) -> None:
    """Print the next command to try, quoted so that it can be pasted; the last line of every text output."""
    say("Next: " + " ".join(shlex.quote(part) for part in command), "bold")


def words(code: str) -> str:
    """Return a snake_case code as words: "thin_wall" -> "Thin wall"."""
    text = code.replace("_", " ").replace(".", ", ").strip()
    return text[:1].upper() + text[1:]


def counted(count: int, noun: str) -> str:
    """Return "one piece", "two pieces" …"""
    return f"{count_word(count)} {noun}" if count == 1 else f"{count_word(count)} {noun}s"


def direction_text(direction: Sequence[float]) -> str:
    """Return a unit vector as it can be typed after --axis: "-z" for a main axis, else three numbers of five
    digits, 0 for what is too little to tell.
    """
    for name, index in (("x", 0), ("y", 1), ("z", 2)):
        rest = [abs(number) for place, number in enumerate(direction) if place != index]
        if max(rest) < _LEAST_SHARE:
            return name if direction[index] > 0 else f"-{name}"
    return ",".join("0" if abs(number) < _LEAST_SHARE else f"{number:.5g}" for number in direction)


def _ended(text: str) -> str:
    text = text.strip()
    return text if not text or text[-1] in ".!?" else text + "."


def _figure_text(value: object) -> str:
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def _plain(value: Any) -> Any:
    for name in ("tolist", "item"):  # numpy's arrays and scalars, without loading numpy here
        if hasattr(value, name):
            return getattr(value, name)()
    raise TypeError(f"{type(value).__name__} cannot be written as JSON")


def _console() -> Console:
    from rich.console import Console

    return Console(highlight=False, width=None if sys.stdout.isatty() else _PLAIN_WIDTH)
