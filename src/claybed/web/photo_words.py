"""What is said of photos, in the words of the app's own pages instead of the command line's options."""

from __future__ import annotations

import re
from typing import Final

_SAID: Final = (
    (r"^--bar and --marker: ", "The mat as printed: "),
    (r"^--bar: ", "The check bar: "),
    (r"^--marker: ", "The marker: "),
    (r"[Aa]dd it, as in --bar 149\.2mm\.", "give it when you bring the photos."),
    (
        r"[Ll]ook at the outline with --check, correct it with --outline, or",
        "Look at the outline, correct it, or",
    ),
    (r"[Ll]ook at the outline with --check;", "Look at the outline;"),
    (r"give its outline with --outline", "drag its outline into place"),
    (r"outline with --outline", "outline by dragging"),
    (r"add --mat behind", "say that the mat stands behind it"),
    (r"leave out --mat behind", "say that the mat lies under it"),
    (r"add --height", "give its height"),
    (r"Print one with `claybed mat`", "Print one from the page of photos"),
)


def in_the_app(text: str) -> str:
    """A sentence about photos without options of the command line."""
    for pattern, words in _SAID:
        text = re.sub(pattern, words, text)
    return text
