"""Moist air. All of its properties come from one library, and from here alone."""

from __future__ import annotations

import sys
from functools import cache
from typing import Any

from claybed.physics._ranges import within


@cache
def _psychrometrics() -> Any:
    # With numba at hand the library compiles its functions anew in every process: three seconds for what
    # plain Python does in a millisecond. So numba is out of its sight while it is loaded.
    kept = sys.modules.get("numba")
    sys.modules["numba"] = None  # type: ignore[assignment]
    try:
        import psychrolib
    finally:
        if kept is None:
            del sys.modules["numba"]
        else:
            sys.modules["numba"] = kept
    psychrolib.SetUnitSystem(psychrolib.SI)
    return psychrolib


def _checked(air_C: float, humidity_fraction: float, pressure_Pa: float) -> tuple[float, float, float]:
    within(air_C, 0.0, 90.0, "air_C", "C")
    within(humidity_fraction, 0.0, 1.0, "humidity_fraction", "")
    return air_C, humidity_fraction, within(pressure_Pa, 50_000.0, 120_000.0, "pressure_Pa", "Pa")


def saturation_pressure_Pa(water_C: float) -> float:
    """Pressure of water vapour over water.

    Hyland and Wexler, as the ASHRAE Handbook prints it.

    Parameters
    ----------
    water_C : float
        Temperature of the water, [C]

    Returns
    -------
    float
        Pressure of the vapour, [Pa]

    Raises
    ------
    InputError
        If the temperature is not from 0 to 90.

    Notes
    -----
    Over a flat face of pure water.

    References
    ----------
    [psychrolib], [ashrae-2017]

    Examples
    --------
    >>> round(saturation_pressure_Pa(25.0), 1)
    3169.2
    """
    within(water_C, 0.0, 90.0, "water_C", "C")
    return float(_psychrometrics().GetSatVapPres(water_C))


def humidity_kg_per_kg(air_C: float, humidity_fraction: float, *, pressure_Pa: float = 101325.0) -> float:
    """Water in the air, against the dry air.

    0.62198 pv / (p - pv).

    Parameters
    ----------
    air_C : float
        Temperature of the air, [C]
    humidity_fraction : float
        Relative humidity, [-]
    pressure_Pa : float
        Air pressure, [Pa]

    Returns
    -------
    float
        Mass of vapour per mass of dry air, [kg/kg]

    Raises
    ------
    InputError
        If the temperature is not from 0 to 90, the humidity not from 0 to 1 or the pressure not from 50 to
        120 kPa.

    Notes
    -----
    The humidity ratio.

    References
    ----------
    [psychrolib], [ashrae-2017]

    Examples
    --------
    >>> round(humidity_kg_per_kg(25.0, 0.50), 5)
    0.00988
    """
    state = _checked(air_C, humidity_fraction, pressure_Pa)
    return float(_psychrometrics().GetHumRatioFromRelHum(*state))


def wet_bulb_C(air_C: float, humidity_fraction: float, *, pressure_Pa: float = 101325.0) -> float:
    """Temperature that a wetted thermometer in a draught shows.

    Where the heat taken from the air equals that of evaporation.

    Parameters
    ----------
    air_C : float
        Temperature of the air, [C]
    humidity_fraction : float
        Relative humidity, [-]
    pressure_Pa : float
        Air pressure, [Pa]

    Returns
    -------
    float
        Wet-bulb temperature, [C]

    Raises
    ------
    InputError
        If the temperature is not from 0 to 90, the humidity not from 0 to 1 or the pressure not from 50 to
        120 kPa.

    Notes
    -----
    A drying mold sits near it while its face is wet, well below the room.

    References
    ----------
    [psychrolib], [ashrae-2017]

    Examples
    --------
    >>> round(wet_bulb_C(25.0, 0.50), 2)
    17.89
    """
    state = _checked(air_C, humidity_fraction, pressure_Pa)
    return float(_psychrometrics().GetTWetBulbFromRelHum(*state))


def wet_bulb_of_ratio_C(air_C: float, vapour_kg_per_kg: float, *, pressure_Pa: float = 101325.0) -> float:
    """Wet-bulb temperature from the humidity ratio.

    As wet_bulb_C.

    Parameters
    ----------
    air_C : float
        Temperature of the air, [C]
    vapour_kg_per_kg : float
        Mass of vapour per mass of dry air, [kg/kg]
    pressure_Pa : float
        Air pressure, [Pa]

    Returns
    -------
    float
        Wet-bulb temperature, [C]

    Raises
    ------
    InputError
        If the temperature is not from 0 to 90 or the ratio not from 0 to 1.

    Notes
    -----
    For air that is told by its humidity ratio, as in handbooks.

    References
    ----------
    [psychrolib], [ashrae-2017]

    Examples
    --------
    >>> round(wet_bulb_of_ratio_C(65.6, 0.010), 1)
    28.9
    """
    within(vapour_kg_per_kg, 0.0, 1.0, "vapour_kg_per_kg", "kg/kg")
    air, _, pressure = _checked(air_C, 0.0, pressure_Pa)
    return float(_psychrometrics().GetTWetBulbFromHumRatio(air, vapour_kg_per_kg, pressure))


def moist_air_kg_per_m3(air_C: float, humidity_fraction: float, *, pressure_Pa: float = 101325.0) -> float:
    """Density of moist air.

    Dry air and vapour, by the ideal gas.

    Parameters
    ----------
    air_C : float
        Temperature of the air, [C]
    humidity_fraction : float
        Relative humidity, [-]
    pressure_Pa : float
        Air pressure, [Pa]

    Returns
    -------
    float
        Density, [kg/m3]

    Raises
    ------
    InputError
        If the temperature is not from 0 to 90, the humidity not from 0 to 1 or the pressure not from 50 to
        120 kPa.

    Notes
    -----
    Per volume of the mix.

    References
    ----------
    [psychrolib], [ashrae-2017]

    Examples
    --------
    >>> round(moist_air_kg_per_m3(25.0, 0.50), 3)
    1.177
    """
    state = _checked(air_C, humidity_fraction, pressure_Pa)
    library = _psychrometrics()
    return float(library.GetMoistAirDensity(air_C, library.GetHumRatioFromRelHum(*state), pressure_Pa))
