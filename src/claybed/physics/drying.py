"""How fast a wet face of plaster dries, and how long a mold takes."""

from __future__ import annotations

import math
from typing import Final

from claybed.physics._ranges import above, within
from claybed.physics.air import moist_air_kg_per_m3, saturation_pressure_Pa

_STEFAN_BOLTZMANN: Final = 5.670374e-8  # W/(m2 K4)
_VAPOUR_J_PER_KG_K: Final = 461.5  # gas constant of water vapour
_AIR_J_PER_KG_K: Final = 1006.0  # heat capacity of air
_PRANDTL: Final = 0.71
_LEWIS: Final = 0.86  # thermal over mass diffusivity, water vapour in air
_FACE_EMITS: Final = 0.9


def latent_heat_J_per_kg(water_C: float) -> float:
    """Heat that evaporates water.

    2501 - 2.361 T, kJ/kg.

    Parameters
    ----------
    water_C : float
        Temperature of the water, [C]

    Returns
    -------
    float
        Heat of evaporation, [J/kg]

    Raises
    ------
    InputError
        If the temperature is not from 0 to 90.

    Notes
    -----
    A straight line through the steam tables, to 0.2 %.

    References
    ----------
    [crc-handbook]

    Examples
    --------
    >>> round(latent_heat_J_per_kg(28.9) / 1000)
    2433
    """
    return 1000.0 * (2501.0 - 2.361 * within(water_C, 0.0, 90.0, "water_C", "C"))


def parallel_transfer_W_per_m2_K(stream_kg_per_m2_s: float) -> float:
    """Heat from a strong stream of air along a wet face.

    0.0204 G^0.8 with G in kg/(m2 h).

    Parameters
    ----------
    stream_kg_per_m2_s : float
        Mass of air passing per area, [kg/(m2 s)]

    Returns
    -------
    float
        Heat transfer, [W/(m2 K)]

    Raises
    ------
    InputError
        If the stream is not from 0.68 to 8.14.

    Notes
    -----
    Air at 45 to 150 °C and 0.6 to 7.6 m/s: a dryer, not a shelf.

    References
    ----------
    [geankoplis]

    Examples
    --------
    >>> round(parallel_transfer_W_per_m2_K(22543 / 3600), 1)
    61.9
    """
    return float(
        0.0204 * (3600.0 * within(stream_kg_per_m2_s, 0.68, 8.14, "stream_kg_per_m2_s", "kg/(m2 s)")) ** 0.8
    )


def heat_limited_kg_per_m2_s(transfer_W_per_m2_K: float, air_C: float, wet_C: float) -> float:
    """Evaporation that a flow of heat keeps up.

    h (air - wet bulb) / latent heat.

    Parameters
    ----------
    transfer_W_per_m2_K : float
        Heat transfer from the air, [W/(m2 K)]
    air_C : float
        Temperature of the air, [C]
    wet_C : float
        Temperature of the wet face, [C]

    Returns
    -------
    float
        Evaporation, [kg/(m2 s)]

    Raises
    ------
    InputError
        If an amount is not positive or the face is warmer than the air.

    Notes
    -----
    With the wet bulb as the face's temperature; radiation and the block's own heat left out.

    References
    ----------
    [geankoplis]

    Examples
    --------
    >>> round(heat_limited_kg_per_m2_s(61.95, 65.6, 28.9) * 3600, 2)
    3.36
    """
    above(transfer_W_per_m2_K, 0.0, "transfer_W_per_m2_K", "W/(m2 K)")
    return (
        transfer_W_per_m2_K * (within(air_C, wet_C, 90.0, "air_C", "C") - wet_C) / latent_heat_J_per_kg(wet_C)
    )


def plate_transfer_W_per_m2_K(speed_m_per_s: float, length_m: float, *, air_C: float = 25.0) -> float:
    """Heat from slow air along a flat face.

    0.664 Re^0.5 Pr^(1/3) k / length.

    Parameters
    ----------
    speed_m_per_s : float
        Speed of the air, [m/s]
    length_m : float
        Length of the face along the air, [m]
    air_C : float
        Temperature of the air, [C]

    Returns
    -------
    float
        Heat transfer, [W/(m2 K)]

    Raises
    ------
    InputError
        If the speed is not from 0.02 to 10 or the length not from 0.005 to 5.

    Notes
    -----
    Smooth flow. Air in a quiet room still moves at 0.05 to 0.2 m/s.

    References
    ----------
    [plate-flow]

    Examples
    --------
    >>> round(plate_transfer_W_per_m2_K(0.5, 0.2), 1)
    6.2
    """
    within(speed_m_per_s, 0.02, 10.0, "speed_m_per_s", "m/s")
    within(length_m, 0.005, 5.0, "length_m", "m")
    kelvin = 273.15 + air_C
    viscosity = 1.458e-6 * kelvin**1.5 / (kelvin + 110.4)  # Sutherland
    conductivity = viscosity * _AIR_J_PER_KG_K / _PRANDTL
    reynolds = moist_air_kg_per_m3(air_C, 0.5) * speed_m_per_s * length_m / viscosity
    return float(0.664 * math.sqrt(reynolds) * _PRANDTL ** (1.0 / 3.0) * conductivity / length_m)


def wet_face_C(air_C: float, humidity_fraction: float, *, speed_m_per_s: float, length_m: float) -> float:
    """Temperature of a wet face in slow air, between wet bulb and room.

    h (air - face) + radiation = evaporation x latent heat, solved by halving.

    Parameters
    ----------
    air_C : float
        Temperature of the air, [C]
    humidity_fraction : float
        Relative humidity, [-]
    speed_m_per_s : float
        Speed of the air, [m/s]
    length_m : float
        Length of the face along the air, [m]

    Returns
    -------
    float
        Temperature of the face, [C]

    Raises
    ------
    InputError
        If the air is out of range.

    Notes
    -----
    Warmer than the wet bulb, since the walls of the room radiate to it.

    References
    ----------
    [plate-flow]

    Examples
    --------
    >>> round(wet_face_C(25.0, 0.50, speed_m_per_s=1.0, length_m=0.2), 1)
    18.6
    """
    within(humidity_fraction, 0.0, 0.999, "humidity_fraction", "")
    transfer = plate_transfer_W_per_m2_K(speed_m_per_s, length_m, air_C=air_C)
    low_C, high_C = 0.0, air_C
    for _ in range(50):
        face_C = (low_C + high_C) / 2.0
        room_K, face_K = 273.15 + air_C, 273.15 + face_C
        gained = transfer * (air_C - face_C) + _FACE_EMITS * _STEFAN_BOLTZMANN * (room_K**4 - face_K**4)
        lost = _evaporation(transfer, air_C, humidity_fraction, face_C) * latent_heat_J_per_kg(face_C)
        low_C, high_C = (face_C, high_C) if gained > lost else (low_C, face_C)
    return (low_C + high_C) / 2.0


def wet_face_kg_per_m2_s(
    air_C: float, humidity_fraction: float, *, speed_m_per_s: float, length_m: float
) -> float:
    """Evaporation from a wet face in slow air.

    mass transfer x (vapour at the face - vapour in the room).

    Parameters
    ----------
    air_C : float
        Temperature of the air, [C]
    humidity_fraction : float
        Relative humidity, [-]
    speed_m_per_s : float
        Speed of the air, [m/s]
    length_m : float
        Length of the face along the air, [m]

    Returns
    -------
    float
        Evaporation, [kg/(m2 s)]

    Raises
    ------
    InputError
        If the air is out of range.

    Notes
    -----
    An upper bound for plaster: a skin dries first, and vapour has to come through it.

    References
    ----------
    [plate-flow], [seck-2015]

    Examples
    --------
    >>> round(wet_face_kg_per_m2_s(25.0, 0.50, speed_m_per_s=1.0, length_m=0.2) * 3600, 2)
    0.13
    """
    face_C = wet_face_C(air_C, humidity_fraction, speed_m_per_s=speed_m_per_s, length_m=length_m)
    transfer = plate_transfer_W_per_m2_K(speed_m_per_s, length_m, air_C=air_C)
    return _evaporation(transfer, air_C, humidity_fraction, face_C)


def pool_kg_per_m2_s(water_C: float, vapour_Pa: float, speed_m_per_s: float) -> float:
    """Evaporation from an open pan of water at a given temperature.

    (0.0885 + 0.0779 v)(pw - pa) / latent heat, in kPa and kJ/kg.

    Parameters
    ----------
    water_C : float
        Temperature of the water, [C]
    vapour_Pa : float
        Pressure of the vapour in the air, [Pa]
    speed_m_per_s : float
        Speed of the air, [m/s]

    Returns
    -------
    float
        Evaporation, [kg/(m2 s)]

    Raises
    ------
    InputError
        If the speed or the vapour is negative.

    Notes
    -----
    With the water at air temperature it is three to four times too fast for a mold, which cools itself.

    References
    ----------
    [ashrae-104]

    Examples
    --------
    >>> round(pool_kg_per_m2_s(25.0, 1584.6, 1.0) * 3600, 3)
    0.389
    """
    within(vapour_Pa, 0.0, 101325.0, "vapour_Pa", "Pa")
    driven_kPa = (saturation_pressure_Pa(water_C) - vapour_Pa) / 1000.0
    moved = 0.0885 + 0.0779 * within(speed_m_per_s, 0.0, 50.0, "speed_m_per_s", "m/s")
    return moved * driven_kPa / (latent_heat_J_per_kg(water_C) / 1000.0)


def drying_time_s(
    water_kg: float,
    area_m2: float,
    rate_kg_per_m2_s: float,
    *,
    left_fraction: float,
    critical_fraction: float,
) -> float:
    """How long a mold takes to a given rest of its water.

    (water / (area x rate)) x (1 - c + c ln(c / x)): steady while more than the share c is left, then slowing
    in proportion to what is left.

    Parameters
    ----------
    water_kg : float
        Water that can leave, [kg]
    area_m2 : float
        Area open to the air, [m2]
    rate_kg_per_m2_s : float
        Evaporation while wet, [kg/(m2 s)]
    left_fraction : float
        Share of that water that may stay, [-]
    critical_fraction : float
        Share at which drying begins to slow, [-]

    Returns
    -------
    float
        Time from full, [s]

    Raises
    ------
    InputError
        If an amount is not positive, or the rest not from 0.001 to 1.

    Notes
    -----
    With c as small as the rest it is the bare constant rate, a lower bound. c is not known for molds; 0.02 to
    0.47 makes the time 1 to 2 times the bound at 1 : 1.3.

    References
    ----------
    [drying-curve], [seck-2015]

    Examples
    --------
    >>> round(drying_time_s(12.78, 1.0, 0.128 / 3600, left_fraction=0.02, critical_fraction=0.02) / 86400, 1)
    4.1
    """
    bare_s = above(water_kg, 0.0, "water_kg", "kg") / (
        above(area_m2, 0.0, "area_m2", "m2") * above(rate_kg_per_m2_s, 0.0, "rate_kg_per_m2_s", "kg/(m2 s)")
    )
    left = within(left_fraction, 0.001, 1.0, "left_fraction", "")
    critical = within(critical_fraction, 0.001, 1.0, "critical_fraction", "")
    if left >= critical:
        return bare_s * (1.0 - left)
    return bare_s * (1.0 - critical + critical * math.log(critical / left))


def _evaporation(transfer_W: float, air_C: float, humidity: float, face_C: float) -> float:
    """kg/(m2 s) by the likeness of heat and vapour transfer."""
    density = moist_air_kg_per_m3(air_C, humidity)
    mass_m_per_s = transfer_W / (density * _AIR_J_PER_KG_K * _LEWIS ** (2.0 / 3.0))
    at_face = saturation_pressure_Pa(face_C) / (_VAPOUR_J_PER_KG_K * (273.15 + face_C))
    in_room = humidity * saturation_pressure_Pa(air_C) / (_VAPOUR_J_PER_KG_K * (273.15 + air_C))
    return float(mass_m_per_s * (at_face - in_room))
