"""A step of the bench pages: a title, sentences, and the figures whose workings it leads to."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

Step = dict[str, Any]


def step(title: str, says: Sequence[Any], *, figures: Sequence[Sequence[str]] = (), **more: Any) -> Step:
    """A step of sentences, empty ones left out; `figures` are tables of pointers to the numbers it tells."""
    return {"title": title, "says": strings(says), "figures": figures, **more}


def unbroken(text: str) -> str:
    """The text with each number held to its fraction and unit: "1 3/16 in" does not part at a line's end."""
    return re.sub(r"(\d) (?=\d+/\d|(?:mm|in|ml|kg|g|lb|oz)\b)", "\\1\u00a0", text)


def unparted(page: Mapping[str, Any]) -> dict[str, Any]:
    """A page as it is set: its steps with the numbers in what they say unbroken."""
    return {**page, "steps": [{**one, "says": [unbroken(t) for t in one["says"]]} for one in page["steps"]]}


def strings(texts: Sequence[Any]) -> list[str]:
    """Those that say something, as text."""
    return [str(text) for text in texts if text]


def each(table: Sequence[Any] | None, at: str, *leaves: str) -> list[list[str]]:
    """For each leaf the pointers to it in every row of a table that stands `at`."""
    return [[f"{at}/{k}/{leaf}" for k in range(len(table or []))] for leaf in leaves]
