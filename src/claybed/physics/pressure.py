"""Liquid plaster loads its form with its full head until it stiffens."""

from __future__ import annotations

from claybed.physics._ranges import above
from claybed.physics.buoyancy import STANDARD_GRAVITY


def head_pressure_Pa(head_m: float, *, liquid_kg_per_m3: float) -> float:
    """Pressure under a head of liquid.

    rho g h.

    Parameters
    ----------
    head_m : float
        Height of liquid above the place, [m]
    liquid_kg_per_m3 : float
        Density of the liquid, [kg/m3]

    Returns
    -------
    float
        Pressure above that of the air, [Pa]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    A pour takes a minute and stiffens in ten, so nothing is let off for setting. Slip in a mold is the
    same.

    References
    ----------
    [aci-347]

    Examples
    --------
    >>> round(head_pressure_Pa(0.250, liquid_kg_per_m3=1600.0))
    3923
    """
    above(head_m, 0.0, "head_m", "m")
    return above(liquid_kg_per_m3, 0.0, "liquid_kg_per_m3", "kg/m3") * STANDARD_GRAVITY * head_m


def board_force_N(width_m: float, head_m: float, *, liquid_kg_per_m3: float) -> float:
    """Force of the liquid on an upright board.

    rho g b h^2 / 2, acting h / 3 above the base.

    Parameters
    ----------
    width_m : float
        Width of the board that is wetted, [m]
    head_m : float
        Height of liquid above the place, [m]
    liquid_kg_per_m3 : float
        Density of the liquid, [kg/m3]

    Returns
    -------
    float
        Force, outward, [N]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    It grows with the square of the height; each end of the board carries half.

    References
    ----------
    [hydrostatics]

    Examples
    --------
    >>> round(board_force_N(0.300, 0.250, liquid_kg_per_m3=1600.0))
    147
    """
    above(width_m, 0.0, "width_m", "m")
    return head_pressure_Pa(head_m, liquid_kg_per_m3=liquid_kg_per_m3) * width_m * head_m / 2.0


def band_tension_N_per_m(radius_m: float, head_m: float, *, liquid_kg_per_m3: float) -> float:
    """Pull in a round band per height of band, at a depth.

    rho g h r.

    Parameters
    ----------
    radius_m : float
        Inside radius of the band, [m]
    head_m : float
        Height of liquid above the place, [m]
    liquid_kg_per_m3 : float
        Density of the liquid, [kg/m3]

    Returns
    -------
    float
        Tension per height, [N/m]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    A loop that is not round pulls itself round and takes more plaster.

    References
    ----------
    [hydrostatics]

    Examples
    --------
    >>> round(band_tension_N_per_m(0.150, 0.250, liquid_kg_per_m3=1600.0))
    588
    """
    above(radius_m, 0.0, "radius_m", "m")
    return head_pressure_Pa(head_m, liquid_kg_per_m3=liquid_kg_per_m3) * radius_m


def band_force_N(radius_m: float, head_m: float, *, liquid_kg_per_m3: float) -> float:
    """Pull in a round band over its whole height.

    rho g h^2 r / 2, acting h / 3 above the base.

    Parameters
    ----------
    radius_m : float
        Inside radius of the band, [m]
    head_m : float
        Height of liquid above the place, [m]
    liquid_kg_per_m3 : float
        Density of the liquid, [kg/m3]

    Returns
    -------
    float
        Force in the band, [N]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    What the tape or the straps must hold; strap the bottom third first.

    References
    ----------
    [hydrostatics]

    Examples
    --------
    >>> round(band_force_N(0.150, 0.250, liquid_kg_per_m3=1600.0), 1)
    73.5
    """
    return band_tension_N_per_m(radius_m, head_m, liquid_kg_per_m3=liquid_kg_per_m3) * head_m / 2.0
