"""What the keys of docs/sources.md stand for, so that a figure can name its source in words."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType

_ROW = re.compile(r"^\| `([^`]+)` \| (.*) \| (\w+) \|$", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Source:
    """One source: its text, and how it was known (read, transcribed, memory, derived, practice, chosen)."""

    text: str
    seen: str


@cache
def sources() -> Mapping[str, Source]:
    """All sources by their key; empty when the list did not come along."""
    try:
        page = resources.files("claybed.materials").joinpath("sources.md").read_text(encoding="utf-8")
    except OSError:
        return MappingProxyType({})
    return MappingProxyType(
        {key: Source(text.replace("*", ""), seen) for key, text, seen in _ROW.findall(page)}
    )
