"""Strength of set plaster: dry, wet, and on the way between."""

from __future__ import annotations

import math
from typing import Final

from claybed.physics._ranges import above, within
from claybed.physics.plaster import free_water_of_dry_fraction

_AT_70_PA: Final = 14.4e6
_PER_POINT: Final = 0.0379


def dry_strength_Pa(water_per_100: float) -> float:
    """Compressive strength of dry pottery plaster.

    14.4 MPa x exp(-0.0379 (w - 70)).

    Parameters
    ----------
    water_per_100 : float
        Water per 100 of plaster by mass, [per 100]

    Returns
    -------
    float
        Compressive strength, dry, [Pa]

    Raises
    ------
    InputError
        If the consistency is not from 60 to 100.

    Notes
    -----
    A fit to four makers' rows at 65 to 75, which scatter by -13 to +9 %; brands differ by 25 %. Hard
    cements are not covered.

    References
    ----------
    [usg-table], [sg-formula]

    Examples
    --------
    >>> round(dry_strength_Pa(74.0) / 1e6, 1)
    12.4
    """
    within(water_per_100, 60.0, 100.0, "water_per_100", "per 100")
    return _AT_70_PA * math.exp(-_PER_POINT * (water_per_100 - 70.0))


def water_at_rise_fraction(
    water_per_100: float, *, left_fraction: float, purity_fraction: float = 1.0
) -> float:
    """Water still in a piece, against its dry mass, when its strength begins to rise.

    left x free water / dry mass.

    Parameters
    ----------
    water_per_100 : float
        Water per 100 of plaster by mass, [per 100]
    left_fraction : float
        Share of the free water left at which strength begins to rise, [-]
    purity_fraction : float
        Share of hemihydrate in the plaster, by mass, [-]

    Returns
    -------
    float
        Water over dry mass, [-]

    Raises
    ------
    InputError
        If there is less water than the plaster binds or the share is not from 0 to 1.

    Notes
    -----
    A makers' curve puts the share near 7 %: a mold that feels dry is still half as strong as it will be.

    References
    ----------
    [usg-ig502]

    Examples
    --------
    >>> round(water_at_rise_fraction(70.0, left_fraction=0.07), 4)
    0.0303
    """
    within(left_fraction, 0.0, 1.0, "left_fraction", "")
    return left_fraction * free_water_of_dry_fraction(water_per_100, purity_fraction=purity_fraction)


def strength_share_fraction(moisture_fraction: float, *, wet_fraction: float, rise_fraction: float) -> float:
    """Strength of a damp piece against the same piece dry.

    wet share above the rise; straight line from there to 1 at no water.

    Parameters
    ----------
    moisture_fraction : float
        Free water over dry mass, [-]
    wet_fraction : float
        Strength wet over strength dry, [-]
    rise_fraction : float
        Free water over dry mass at which strength begins to rise, [-]

    Returns
    -------
    float
        Strength over dry strength, [-]

    Raises
    ------
    InputError
        If the moisture is negative, or another share not between 0 and 1.

    Notes
    -----
    A simple line through two known ends. Makers' pairs give 0.42 to 0.50 for the wet share.

    References
    ----------
    [usg-table], [usg-ig502]

    Examples
    --------
    >>> round(strength_share_fraction(0.30, wet_fraction=0.45, rise_fraction=0.03), 2)
    0.45
    >>> strength_share_fraction(0.0, wet_fraction=0.45, rise_fraction=0.03)
    1.0
    """
    within(moisture_fraction, 0.0, 10.0, "moisture_fraction", "")
    within(wet_fraction, 0.0, 1.0, "wet_fraction", "")
    above(rise_fraction, 0.0, "rise_fraction", "")
    return 1.0 - (1.0 - wet_fraction) * min(moisture_fraction / rise_fraction, 1.0)
