"""Clay shrinks twice, as it dries and as it is fired; the two compound and never add up."""

from __future__ import annotations

from claybed.physics._ranges import above, within

_MOST = 0.6  # no clay shrinks by more of its length


def linear_shrinkage_fraction(before_m: float, after_m: float) -> float:
    """Shrinkage of a marked length, against the length before.

    (before - after) / before.

    Parameters
    ----------
    before_m : float
        Distance of the marks before, [m]
    after_m : float
        Distance of the same marks after, [m]

    Returns
    -------
    float
        Linear shrinkage, [-]

    Raises
    ------
    InputError
        If a length is not positive, or the second is outside 0.4 to 1.2 of the first.

    Notes
    -----
    Drying shrinkage is on the plastic (for cast ware: the mold's) length, firing shrinkage on the DRY length.
    The growth on the fired length, (before - after) / after, is another number and no shrinkage. Negative: it
    grew.

    References
    ----------
    [astm-c326], [ceramic-research]

    Examples
    --------
    >>> round(100 * linear_shrinkage_fraction(0.150, 0.144), 3)
    4.0
    """
    above(before_m, 0.0, "before_m", "m")
    return 1.0 - within(after_m / before_m, 1.0 - _MOST, 1.2, "after_m / before_m", "")


def compounded_shrinkage_fraction(first_fraction: float, second_fraction: float) -> float:
    """Shrinkage over two steps, each against the length at its own start.

    1 - (1 - first)(1 - second).

    Parameters
    ----------
    first_fraction : float
        Linear shrinkage of the first step, [-]
    second_fraction : float
        Linear shrinkage of the second step, against the length after the first, [-]

    Returns
    -------
    float
        Linear shrinkage over both, [-]

    Raises
    ------
    InputError
        If a shrinkage is not from 0 up to, but not including, 1.

    Notes
    -----
    The plain sum is too large: 6.25 % and 6.66 % make 12.49 %, not 12.91 %.

    References
    ----------
    [hansen], [astm-c326]

    Examples
    --------
    >>> round(100 * compounded_shrinkage_fraction(0.0625, 0.0666), 3)
    12.494
    """
    first = _shrinkage(first_fraction, "first_fraction")
    return 1.0 - (1.0 - first) * (1.0 - _shrinkage(second_fraction, "second_fraction"))


def oversize_ratio(shrinkage_fraction: float, *, growth_fraction: float = 0.0) -> float:
    """How much longer the model must be than the fired piece.

    1 / ((1 - S)(1 + g)).

    Parameters
    ----------
    shrinkage_fraction : float
        Linear shrinkage from mold to fired piece, against the length at the start, [-]
    growth_fraction : float
        Linear growth of the plaster over all castings from model to mold, [-]

    Returns
    -------
    float
        Length of the model over length of the fired piece, [-]

    Raises
    ------
    InputError
        If the shrinkage is not from 0 to 0.6, or the growth not from -0.05 to 0.05.

    Notes
    -----
    Never 1 + S, which makes the piece 1.44 % too small at 12 %. A mold that grew as it set has a larger
    cavity, so its model may be smaller; a makers' figure for the growth is its most, and a boxed pour grows
    unevenly: take none unless measured.

    References
    ----------
    [astm-c326], [usg-ig526]

    Examples
    --------
    >>> round(oversize_ratio(0.12), 5)
    1.13636
    >>> round(oversize_ratio(0.12, growth_fraction=0.0021), 5)
    1.13398
    """
    growth = within(growth_fraction, -0.05, 0.05, "growth_fraction", "")
    return 1.0 / ((1.0 - _shrinkage(shrinkage_fraction)) * (1.0 + growth))


def volume_shrinkage_fraction(shrinkage_fraction: float) -> float:
    """Loss of volume that goes with a loss of length.

    1 - (1 - S)^3.

    Parameters
    ----------
    shrinkage_fraction : float
        Linear shrinkage from mold to fired piece, against the length at the start, [-]

    Returns
    -------
    float
        Shrinkage of the volume, [-]

    Raises
    ------
    InputError
        If the shrinkage is not from 0 up to, but not including, 1.

    Notes
    -----
    Same shrinkage in all directions. Handles and wide rims warp instead.

    References
    ----------
    [astm-c326]

    Examples
    --------
    >>> round(100 * volume_shrinkage_fraction(0.12), 3)
    31.853
    """
    return 1.0 - (1.0 - _shrinkage(shrinkage_fraction)) ** 3


def water_loss_shrinkage_fraction(
    water_before_fraction: float, water_after_fraction: float, solids_kg_per_m3: float, water_kg_per_m3: float
) -> float:
    """Linear shrinkage of clay whose pores stay full while it loses water.

    1 - ((1/rho_s + X_after/rho_w) / (1/rho_s + X_before/rho_w))^(1/3), with X = w / (1 - w).

    Parameters
    ----------
    water_before_fraction : float
        Water of the wet mass before, [-]
    water_after_fraction : float
        Water of the wet mass after, [-]
    solids_kg_per_m3 : float
        Density of the dry solids, [kg/m3]
    water_kg_per_m3 : float
        Density of water, [kg/m3]

    Returns
    -------
    float
        Linear shrinkage, [-]

    Raises
    ------
    InputError
        If a share of water is not from 0 up to, but not including, 0.9, a density not positive, or there is
        more water after than before.

    Notes
    -----
    A mass balance: the volume lost is the water lost. It ends where grains touch and air enters, so that it
    is an upper bound near dryness; the same in all directions.

    References
    ----------
    [mass-balance]

    Examples
    --------
    >>> round(100 * water_loss_shrinkage_fraction(0.22, 0.18, 2600.0, 1000.0), 2)
    3.23
    """
    solids = above(solids_kg_per_m3, 0.0, "solids_kg_per_m3", "kg/m3")
    water = above(water_kg_per_m3, 0.0, "water_kg_per_m3", "kg/m3")
    before = within(water_before_fraction, 0.0, 0.9, "water_before_fraction", "")
    after = within(water_after_fraction, 0.0, before, "water_after_fraction", "")
    rooms = [1.0 / solids + share / (1.0 - share) / water for share in (after, before)]
    return float(1.0 - (rooms[0] / rooms[1]) ** (1.0 / 3.0))


def fired_volume_m3(wet_m3: float, shrinkage_fraction: float) -> float:
    """What a wet space holds once its piece is fired.

    V (1 - S)^3.

    Parameters
    ----------
    wet_m3 : float
        Volume inside the wet piece, [m3]
    shrinkage_fraction : float
        Linear shrinkage from mold to fired piece, against the length at the start, [-]

    Returns
    -------
    float
        Volume inside the fired piece, [m3]

    Raises
    ------
    InputError
        If the volume is not positive or the shrinkage out of range.

    Notes
    -----
    The space inside shrinks with its walls.

    References
    ----------
    [astm-c326]

    Examples
    --------
    >>> round(1e6 * fired_volume_m3(513.59e-6, 0.12), 1)
    350.0
    """
    return above(wet_m3, 0.0, "wet_m3", "m3") * (1.0 - _shrinkage(shrinkage_fraction)) ** 3


def wet_volume_m3(fired_m3: float, shrinkage_fraction: float) -> float:
    """What must fit inside the wet piece for a wanted volume when fired.

    V / (1 - S)^3.

    Parameters
    ----------
    fired_m3 : float
        Volume wanted inside the fired piece, [m3]
    shrinkage_fraction : float
        Linear shrinkage from mold to fired piece, against the length at the start, [-]

    Returns
    -------
    float
        Volume inside the wet piece, [m3]

    Raises
    ------
    InputError
        If the volume is not positive or the shrinkage out of range.

    Notes
    -----
    As fired_volume_m3, turned round.

    References
    ----------
    [astm-c326]

    Examples
    --------
    >>> round(1e6 * wet_volume_m3(350e-6, 0.12), 2)
    513.59
    """
    return above(fired_m3, 0.0, "fired_m3", "m3") / (1.0 - _shrinkage(shrinkage_fraction)) ** 3


def _shrinkage(amount_fraction: float, name: str = "shrinkage_fraction") -> float:
    return within(amount_fraction, 0.0, _MOST, name, "")
