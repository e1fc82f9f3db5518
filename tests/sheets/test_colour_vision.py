"""The palette as people see it whose eyes lack one kind of cone, or all of them."""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest

from claybed.assets.palette import DARK, LIGHT, OXIDE, OXIDE_PALE, PIECES, SLATE, WALL_RAMP

# Machado, Oliveira and Fernandes, "A physiologically-based model for simulation of color vision deficiency",
# IEEE Transactions on Visualization and Computer Graphics 15 (2009), severity 1.0, on linear sRGB. Numbers as
# several public programs transcribe the authors' table; the table itself was not seen.
SEEN_BY = {
    "all cones": np.eye(3),
    "no long": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "no middle": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "no short": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
    "no colour": np.array([[0.2126, 0.7152, 0.0722]] * 3),
}
# Linear sRGB to CIE XYZ with white D65, IEC 61966-2-1; the second row is the luminance that WCAG 2 uses.
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])


def seen(colour: str, eyes: str) -> np.ndarray:
    """A colour given in hex, as linear sRGB of those eyes."""
    coded = np.array([int(colour[k : k + 2], 16) / 255.0 for k in (1, 3, 5)])
    linear = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)
    return np.clip(SEEN_BY[eyes] @ linear, 0.0, 1.0)


def lab(colour: str, eyes: str) -> np.ndarray:
    """CIE 1976 L*, a*, b* of a colour as those eyes see it."""
    share = TO_XYZ @ seen(colour, eyes) / TO_XYZ.sum(axis=1)
    f = np.where(share > (6 / 29) ** 3, np.cbrt(share), share * (29 / 6) ** 2 / 3 + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def apart(one: str, other: str, eyes: str) -> float:
    """How far two colours look apart, CIE 1976; 2.3 is just seen side by side."""
    return float(np.linalg.norm(lab(one, eyes) - lab(other, eyes)))


def contrast(one: str, other: str, eyes: str) -> float:
    """Contrast of two colours by WCAG 2.2, 1 to 21."""
    lights = sorted(float(TO_XYZ[1] @ seen(colour, eyes)) for colour in (one, other))
    return (lights[1] + 0.05) / (lights[0] + 0.05)


def test_the_transforms_leave_greys_alone_and_join_what_they_should() -> None:
    """Grey looks grey to all eyes, and two colours that only missing cones tell apart fall together."""
    for eyes in SEEN_BY:
        assert apart("#808080", "#808080", eyes) == 0.0
        assert np.linalg.norm(lab("#808080", eyes) - lab("#808080", "all cones")) < 0.5
    red, green = "#BE6E5A", "#828A5A"
    assert apart(red, green, "all cones") > 3 * apart(red, green, "no middle")


@pytest.mark.parametrize("eyes", SEEN_BY)
def test_all_eyes_can_read_and_tell_apart_what_colour_tells(eyes: str) -> None:
    """Text keeps the contrast that WCAG 2.2 asks of it (4.5, and 4.44 for oxide on the dark sheet without
    long cones), stripes and seam stand out, the ramp climbs in even steps, pieces that meet look apart.
    """
    for bench in (LIGHT, DARK):
        for word in ("text", "quiet", "act", "holds", "look", "stop", "water"):
            for ground in ("ground", "sheet"):
                assert contrast(bench[word], bench[ground], eyes) > 4.4, (word, ground)
    assert contrast(OXIDE, OXIDE_PALE, eyes) > 3.0
    for side in PIECES[:4]:
        assert contrast(SLATE, side, eyes) > 2.6
    steps = np.diff([lab(colour, eyes)[0] for colour in WALL_RAMP])
    assert steps.min() > 12.0
    assert steps.max() < 1.5 * steps.min()
    for one, other in [*pairwise(PIECES), *combinations(PIECES[:4], 2)]:
        assert apart(one, other, eyes) > 6.0, (one, other)
