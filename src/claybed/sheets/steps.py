"""A step of the bench pages: a title, sentences, and the figures whose workings it leads to."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

Step = dict[str, Any]


def step(title: str, says: Sequence[Any], *, figures: Sequence[Sequence[str]] = (), **more: Any) -> Step:
    """A step of sentences, empty ones left out; `figures` are tables of pointers to the numbers it tells."""
    return {"title": title, "says": strings(says), "figures": figures, **more}


def unbroken(text: str) -> str:
    """The text with each whole number held to its fraction: "1 3/16" does not part at the end of a line."""
    return re.sub(r"(\d) (\d+/\d)", "\\1\u00a0\\2", text)


def strings(texts: Sequence[Any]) -> list[str]:
    """Those that say something, as text."""
    return [str(text) for text in texts if text]


def each(table: Sequence[Any] | None, at: str, *leaves: str) -> list[list[str]]:
    """For each leaf the pointers to it in every row of a table that stands `at`."""
    return [[f"{at}/{k}/{leaf}" for k in range(len(table or []))] for leaf in leaves]
