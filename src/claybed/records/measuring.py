"""How an object was come by, and how well its volume is known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

# What an object file may have been made from, and how that is said.
KINDS: Final[Mapping[str, str]] = {
    "calipers": "measured with calipers",
    "shape": "a simple shape of given sizes",
    "outline": "a drawn outline",
    "relief": "a picture taken as heights",
    "displaced": "weighed in air and by the water it displaces",
    "scan": "a scan, tidied",
    "photo": "one photo, taken as round",
    "photos": "photos from the front and the side",
    "hull": "the hull of its outlines in photos",
}


@dataclass(frozen=True, slots=True)
class VolumeBand:
    """A 95 % interval of a volume as shares of it: it may be `smaller_share` less or `larger_share` more.

    Both 0 or more, `smaller_share` below 1. A hull of outlines contains the object, so its band is one-sided.
    """

    smaller_share: float = 0.0
    larger_share: float = 0.0

    @property
    def exact(self) -> bool:
        """Whether the volume is taken at its word."""
        return self.smaller_share == 0.0 and self.larger_share == 0.0


@dataclass(frozen=True, slots=True)
class Measuring:
    """How an object was measured.

    `kind` a key of KINDS; `says` one sentence with what was measured and how well; `band` of the volume as
    it stands in the file; `closed_band` of a vessel whose mouth is closed, None when it is the same;
    `cannot_tell` what this way of measuring leaves open, as sentences.
    """

    kind: str
    says: str
    band: VolumeBand
    closed_band: VolumeBand | None = None
    cannot_tell: tuple[str, ...] = ()
