"""Dry plaster drinks: how fast, how far, and with what suction."""

from __future__ import annotations

import math

from claybed.physics._ranges import above, within


def sorptivity_m_per_sqrt_s(uptake_kg_per_m2: float, time_s: float, *, water_kg_per_m3: float) -> float:
    """Sorptivity from the water a face took up in a time.

    (uptake / water density) / sqrt(time).

    Parameters
    ----------
    uptake_kg_per_m2 : float
        Water taken up per area of face, [kg/m2]
    time_s : float
        Time since the face was wetted, [s]
    water_kg_per_m3 : float
        Density of water, [kg/m3]

    Returns
    -------
    float
        Sorptivity, [m/s0.5]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    Holds while uptake grows with the square root of time: one face, dry plaster, front not yet at the far
    side.

    References
    ----------
    [usg-ig526], [song-2011]

    Examples
    --------
    >>> sorptivity = sorptivity_m_per_sqrt_s(3.8, 60.0, water_kg_per_m3=998.0)
    >>> round(sorptivity * 1000 * 60**0.5, 2)
    3.81
    """
    above(uptake_kg_per_m2, 0.0, "uptake_kg_per_m2", "kg/m2")
    above(water_kg_per_m3, 0.0, "water_kg_per_m3", "kg/m3")
    return uptake_kg_per_m2 / water_kg_per_m3 / math.sqrt(above(time_s, 0.0, "time_s", "s"))


def absorption_coefficient_kg_per_m2_sqrt_s(
    sorptivity_m_per_sqrt_s: float, *, water_kg_per_m3: float
) -> float:
    """Water absorption coefficient, as building physics prints it.

    S x water density.

    Parameters
    ----------
    sorptivity_m_per_sqrt_s : float
        Sorptivity, [m/s0.5]
    water_kg_per_m3 : float
        Density of water, [kg/m3]

    Returns
    -------
    float
        Water absorption coefficient A, [kg/(m2 s0.5)]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    The same law as the sorptivity, by mass.

    References
    ----------
    [buildingsystems]

    Examples
    --------
    >>> round(absorption_coefficient_kg_per_m2_sqrt_s(3.807e-3 / 60**0.5, water_kg_per_m3=998.0), 3)
    0.49
    """
    above(sorptivity_m_per_sqrt_s, 0.0, "sorptivity_m_per_sqrt_s", "m/s0.5")
    return sorptivity_m_per_sqrt_s * above(water_kg_per_m3, 0.0, "water_kg_per_m3", "kg/m3")


def front_depth_m(sorptivity_m_per_sqrt_s: float, time_s: float, *, uptake_fraction: float) -> float:
    """How deep the wet front has gone.

    S sqrt(t) / f.

    Parameters
    ----------
    sorptivity_m_per_sqrt_s : float
        Sorptivity, [m/s0.5]
    time_s : float
        Time since the face was wetted, [s]
    uptake_fraction : float
        Water taken up per volume of plaster behind the front, [-]

    Returns
    -------
    float
        Depth of the front below the face, [m]

    Raises
    ------
    InputError
        If an amount is not positive or the uptake is over 1.

    Notes
    -----
    Sharp front, free water on a flat face. Slip gives its water up far more slowly, so a cast never wets
    this deep.

    References
    ----------
    [hall-hoff]

    Examples
    --------
    >>> round(front_depth_m(3.8e-3 / 60**0.5, 60.0, uptake_fraction=0.40) * 1000, 1)
    9.5
    """
    above(sorptivity_m_per_sqrt_s, 0.0, "sorptivity_m_per_sqrt_s", "m/s0.5")
    above(time_s, 0.0, "time_s", "s")
    above(uptake_fraction, 0.0, "uptake_fraction", "")
    return (
        sorptivity_m_per_sqrt_s * math.sqrt(time_s) / within(uptake_fraction, 0.0, 1.0, "uptake_fraction", "")
    )


def front_time_s(depth_m: float, *, sorptivity_m_per_sqrt_s: float, uptake_fraction: float) -> float:
    """When the wet front reaches a depth.

    (x f / S)^2.

    Parameters
    ----------
    depth_m : float
        Depth below the face, [m]
    sorptivity_m_per_sqrt_s : float
        Sorptivity, [m/s0.5]
    uptake_fraction : float
        Water taken up per volume of plaster behind the front, [-]

    Returns
    -------
    float
        Time since the face was wetted, [s]

    Raises
    ------
    InputError
        If an amount is not positive or the uptake is over 1.

    Notes
    -----
    As front_depth_m, turned round.

    References
    ----------
    [hall-hoff]

    Examples
    --------
    >>> round(front_time_s(0.025, sorptivity_m_per_sqrt_s=3.8e-3 / 60**0.5, uptake_fraction=0.40) / 60, 2)
    6.93
    """
    above(depth_m, 0.0, "depth_m", "m")
    above(uptake_fraction, 0.0, "uptake_fraction", "")
    within(uptake_fraction, 0.0, 1.0, "uptake_fraction", "")
    above(sorptivity_m_per_sqrt_s, 0.0, "sorptivity_m_per_sqrt_s", "m/s0.5")
    return (depth_m * uptake_fraction / sorptivity_m_per_sqrt_s) ** 2


def capillary_pressure_Pa(pore_radius_m: float, *, tension_N_per_m: float) -> float:
    """Suction of a wetted round pore.

    2 x surface tension / radius.

    Parameters
    ----------
    pore_radius_m : float
        Radius of the pore, [m]
    tension_N_per_m : float
        Surface tension of the water, [N/m]

    Returns
    -------
    float
        Pressure below that of the air, [Pa]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    Contact angle nought. Pores of set plaster are some micrometres, so suction is of the order of 100
    kPa.

    References
    ----------
    [young-laplace]

    Examples
    --------
    >>> round(capillary_pressure_Pa(1e-6, tension_N_per_m=0.0728) / 1000, 1)
    145.6
    """
    above(tension_N_per_m, 0.0, "tension_N_per_m", "N/m")
    return 2.0 * tension_N_per_m / above(pore_radius_m, 0.0, "pore_radius_m", "m")
