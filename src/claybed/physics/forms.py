"""Boards and straps that hold liquid plaster: how far a board bends, what straps pull, what an oval gains."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Final

from claybed.physics._ranges import above, within
from claybed.physics.buoyancy import STANDARD_GRAVITY

# Board width over liquid head -> largest and mean deflection as a share of p0 h^4 / D: a plate held at base
# and both ends, top edge free, liquid up to the top, Poisson's ratio 0.3 (a series solution).
_PLATE: Final = (
    (0.5, 0.00035, 0.00016),
    (0.75, 0.00129, 0.00066),
    (1.0, 0.00368, 0.00170),
    (1.5, 0.01537, 0.00587),
    (2.0, 0.0367, 0.0130),
    (3.0, 0.1065, 0.0360),
)
_POISSON: Final = 0.3


def strip_deflection_m(pressure_Pa: float, span_m: float, *, thickness_m: float, modulus_Pa: float) -> float:
    """How far a strip of board bows between two clamps under an even pressure.

    5 p L^4 / (384 E I), with I = t^3 / 12 for a strip of unit width.

    Parameters
    ----------
    pressure_Pa : float
        Pressure on the strip, [Pa]
    span_m : float
        Free length between clamps, [m]
    thickness_m : float
        Thickness of the board, [m]
    modulus_Pa : float
        Elastic modulus of the board, [Pa]

    Returns
    -------
    float
        Bow in the middle, [m]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    Ends free to turn. With the pressure at the base it is an upper bound: the rest of the board helps.

    References
    ----------
    [beam-theory]

    Examples
    --------
    >>> bow = strip_deflection_m(3923.0, 0.3, thickness_m=0.018, modulus_Pa=3e9)
    >>> round(1000 * bow, 2)
    0.28
    """
    above(span_m, 0.0, "span_m", "m")
    load_N_per_m = above(pressure_Pa, 0.0, "pressure_Pa", "Pa")
    stiffness = above(modulus_Pa, 0.0, "modulus_Pa", "Pa") * above(thickness_m, 0.0, "thickness_m", "m") ** 3
    return 5.0 * load_N_per_m * span_m**4 * 12.0 / (384.0 * stiffness)


def strip_thickness_m(pressure_Pa: float, span_m: float, *, bow_m: float, modulus_Pa: float) -> float:
    """Thickness at which a strip between two clamps bows no more than allowed.

    (5 p L^4 x 12 / (384 E w))^(1/3).

    Parameters
    ----------
    pressure_Pa : float
        Pressure on the strip, [Pa]
    span_m : float
        Free length between clamps, [m]
    bow_m : float
        Bow that is allowed in the middle, [m]
    modulus_Pa : float
        Elastic modulus of the board, [Pa]

    Returns
    -------
    float
        Thickness, [m]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    Halving the span with a clamp in the middle does more than a thicker board: the bow falls sixteenfold.

    References
    ----------
    [beam-theory]

    Examples
    --------
    >>> round(1000 * strip_thickness_m(3923.0, 0.4, bow_m=0.001, modulus_Pa=3e9), 1)
    17.4
    """
    above(pressure_Pa, 0.0, "pressure_Pa", "Pa")
    above(span_m, 0.0, "span_m", "m")
    below = 384.0 * above(modulus_Pa, 0.0, "modulus_Pa", "Pa") * above(bow_m, 0.0, "bow_m", "m")
    return float((60.0 * pressure_Pa * span_m**4 / below) ** (1.0 / 3.0))


def plate_deflection_m(
    width_m: float, head_m: float, *, thickness_m: float, modulus_Pa: float, liquid_kg_per_m3: float
) -> float:
    """Largest bow of a whole board that holds liquid up to its top edge.

    c p0 h^4 / D, D = E t^3 / (12 (1 - nu^2)), c by width over head.

    Parameters
    ----------
    width_m : float
        Wetted width between the board's ends, [m]
    head_m : float
        Height of liquid against it, [m]
    thickness_m : float
        Thickness of the board, [m]
    modulus_Pa : float
        Elastic modulus of the board, [Pa]
    liquid_kg_per_m3 : float
        Density of the liquid, [kg/m3]

    Returns
    -------
    float
        Largest bow, [m]

    Raises
    ------
    InputError
        If an amount is not positive, or width over head is not from 0.5 to 3.

    Notes
    -----
    Base and both ends held, top edge free, Poisson's ratio 0.3. From a width equal to the head on, the middle
    of the top edge moves most, and one clamp across the top does more than a thicker board.

    References
    ----------
    [plate-table]

    Examples
    --------
    >>> bow = plate_deflection_m(
    ...     0.250, 0.250, thickness_m=0.018, modulus_Pa=3e9, liquid_kg_per_m3=1600.0
    ... )
    >>> round(1000 * bow, 3)
    0.035
    """
    share = _plate_share(width_m / above(head_m, 0.0, "head_m", "m"), 1)
    return share * _plate_scale_m(head_m, thickness_m, modulus_Pa, liquid_kg_per_m3)


def plate_bulge_m3(
    width_m: float, head_m: float, *, thickness_m: float, modulus_Pa: float, liquid_kg_per_m3: float
) -> float:
    """Extra plaster that a bowed board takes.

    Mean c p0 h^4 / D x width x head.

    Parameters
    ----------
    width_m : float
        Wetted width between the board's ends, [m]
    head_m : float
        Height of liquid against it, [m]
    thickness_m : float
        Thickness of the board, [m]
    modulus_Pa : float
        Elastic modulus of the board, [Pa]
    liquid_kg_per_m3 : float
        Density of the liquid, [kg/m3]

    Returns
    -------
    float
        Volume between the bowed and the flat board, [m3]

    Raises
    ------
    InputError
        If an amount is not positive, or width over head is not from 0.5 to 3.

    Notes
    -----
    Held as in the largest bow; a gap at the base joint is not in it.

    References
    ----------
    [plate-table]

    Examples
    --------
    >>> bulge = plate_bulge_m3(
    ...     0.500, 0.250, thickness_m=0.012, modulus_Pa=3e9, liquid_kg_per_m3=1600.0
    ... )
    >>> round(1e6 * bulge)
    52
    """
    share = _plate_share(width_m / above(head_m, 0.0, "head_m", "m"), 2)
    return share * _plate_scale_m(head_m, thickness_m, modulus_Pa, liquid_kg_per_m3) * width_m * head_m


def strap_pull_N(force_N: float, head_m: float, low_m: float, high_m: float) -> tuple[float, float]:
    """Pull in the lower and the upper of two straps that hold the liquid's force.

    Upper = F (h / 3 - y1) / (y2 - y1), lower = F - upper.

    Parameters
    ----------
    force_N : float
        Force of the liquid, shared by the two, [N]
    head_m : float
        Height of liquid, [m]
    low_m : float
        Height of the lower strap above the base, [m]
    high_m : float
        Height of the upper strap above the base, [m]

    Returns
    -------
    tuple
        Lower and upper pull; negative means that the strap is slack

    Raises
    ------
    InputError
        If an amount is not positive or the upper strap is not above the lower.

    Notes
    -----
    The force acts a third of the head above the base. One strap alone belongs there.

    References
    ----------
    [hydrostatics]

    Examples
    --------
    >>> low, high = strap_pull_N(147.1, 0.250, 0.050, 0.200)
    >>> round(low, 1), round(high, 1)
    (114.4, 32.7)
    """
    above(force_N, 0.0, "force_N", "N")
    above(head_m, 0.0, "head_m", "m")
    above(low_m, 0.0, "low_m", "m")
    apart_m = above(high_m, low_m, "high_m", "m") - low_m
    upper_N = force_N * (head_m / 3.0 - low_m) / apart_m
    return force_N - upper_N, upper_N


def oval_gain_fraction(length_to_width_ratio: float) -> float:
    """Area that a band gains when it is pushed round from an oval of the same girth.

    4 pi A / U^2 turned over, less 1: A = pi a b, U the girth of the ellipse.

    Parameters
    ----------
    length_to_width_ratio : float
        Long axis of the oval over its short one, [-]

    Returns
    -------
    float
        Gain over the oval's area, [-]

    Raises
    ------
    InputError
        If the ratio is not from 1 to 100.

    Notes
    -----
    Liquid pushes a free band round, so a band that was set up as an oval ends with thinner walls at the ends
    of its long axis and takes this much more plaster. The girth comes from the arithmetic-geometric mean.

    References
    ----------
    [ellipse-girth]

    Examples
    --------
    >>> [round(100 * oval_gain_fraction(ratio), 1) for ratio in (1.25, 1.5, 2.0, 3.0)]
    [1.9, 6.3, 18.9, 50.8]
    """
    long = within(length_to_width_ratio, 1.0, 100.0, "length_to_width_ratio", "")
    a, b = long, 1.0
    total, weight = (a * a + b * b) / 2.0, 1.0
    while abs(a - b) > 1e-15 * a:
        a, b, c = (a + b) / 2.0, math.sqrt(a * b), (a - b) / 2.0
        total -= weight * c * c
        weight *= 2.0
    girth = 2.0 * math.pi * total / a
    return girth**2 / (4.0 * math.pi * math.pi * long) - 1.0


def _plate_share(width_over_head: float, column: int) -> float:
    within(round(width_over_head, 9), _PLATE[0][0], _PLATE[-1][0], "width over head", "")
    for low, high in pairwise(_PLATE):
        if width_over_head <= high[0]:
            # The bow grows like a power of the width: straight lines between logarithms.
            t = math.log(width_over_head / low[0]) / math.log(high[0] / low[0])
            return float(low[column] * (high[column] / low[column]) ** t)
    return _PLATE[-1][column]


def _plate_scale_m(head_m: float, thickness_m: float, modulus_Pa: float, liquid_kg_per_m3: float) -> float:
    above(thickness_m, 0.0, "thickness_m", "m")
    above(modulus_Pa, 0.0, "modulus_Pa", "Pa")
    base_Pa = above(liquid_kg_per_m3, 0.0, "liquid_kg_per_m3", "kg/m3") * STANDARD_GRAVITY * head_m
    return base_Pa * head_m**4 * 12.0 * (1.0 - _POISSON**2) / (modulus_Pa * thickness_m**3)
