"""A filter test read: what the cake holds back, and what the face does."""

from __future__ import annotations

from claybed.physics._ranges import above


def filtration_slope_s_per_m6(first_s: float, first_m3: float, second_s: float, second_m3: float) -> float:
    """Slope of time over volume against volume, from two readings of a filter test.

    (t2 / V2 - t1 / V1) / (V2 - V1).

    Parameters
    ----------
    first_s : float
        Time of the first reading, [s]
    first_m3 : float
        Water through by then, [m3]
    second_s : float
        Time of the second reading, [s]
    second_m3 : float
        Water through by then, [m3]

    Returns
    -------
    float
        Slope, [s/m6]

    Raises
    ------
    InputError
        If an amount is not positive or the readings do not rise.

    Notes
    -----
    Steady suction; the slope is the cake's share.

    References
    ----------
    [filtration-exercise]

    Examples
    --------
    >>> round(filtration_slope_s_per_m6(300.0, 250e-6, 600.0, 400e-6) * 1e-12, 6)
    0.002
    """
    above(first_m3, 0.0, "first_m3", "m3")
    above(first_s, 0.0, "first_s", "s")
    above(second_s, first_s, "second_s", "s")
    above(second_m3, first_m3, "second_m3", "m3")
    return (second_s / second_m3 - first_s / first_m3) / (second_m3 - first_m3)


def filtration_intercept_s_per_m3(first_s: float, first_m3: float, slope_s_per_m6: float) -> float:
    """Time over volume at no volume: the share of the filter itself.

    t / V - slope V.

    Parameters
    ----------
    first_s : float
        Time of a reading, [s]
    first_m3 : float
        Water through by then, [m3]
    slope_s_per_m6 : float
        Slope of the test, [s/m6]

    Returns
    -------
    float
        Intercept, [s/m3]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    A clogged mold face, or soap left on it, shows here.

    References
    ----------
    [filtration-exercise]

    Examples
    --------
    >>> round(filtration_intercept_s_per_m3(300.0, 250e-6, 2e9) * 1e-6, 3)
    0.7
    """
    above(first_s, 0.0, "first_s", "s")
    return (
        first_s / above(first_m3, 0.0, "first_m3", "m3")
        - above(slope_s_per_m6, 0.0, "slope_s_per_m6", "s/m6") * first_m3
    )


def cake_resistance_per_m2(
    slope_s_per_m6: float, area_m2: float, pressure_Pa: float, viscosity_Pa_s: float
) -> float:
    """Resistance that each volume of slip adds, from the slope.

    2 slope A^2 dP / eta.

    Parameters
    ----------
    slope_s_per_m6 : float
        Slope of the test, [s/m6]
    area_m2 : float
        Area of the filter, [m2]
    pressure_Pa : float
        Pressure across it, [Pa]
    viscosity_Pa_s : float
        Viscosity of the water, [Pa s]

    Returns
    -------
    float
        Resistance per volume of water on an area, [1/m2]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    The product of specific resistance and concentration.

    References
    ----------
    [filtration-exercise]

    Examples
    --------
    >>> f'{cake_resistance_per_m2(2e9, 0.05, 7e4, 1e-3):.2e}'
    '7.00e+14'
    """
    driven = 2.0 * above(pressure_Pa, 0.0, "pressure_Pa", "Pa") * above(area_m2, 0.0, "area_m2", "m2") ** 2
    return (
        above(slope_s_per_m6, 0.0, "slope_s_per_m6", "s/m6")
        * driven
        / above(viscosity_Pa_s, 0.0, "viscosity_Pa_s", "Pa s")
    )


def face_resistance_per_m(
    intercept_s_per_m3: float, area_m2: float, pressure_Pa: float, viscosity_Pa_s: float
) -> float:
    """Resistance of the filter face, from the intercept.

    intercept A dP / eta.

    Parameters
    ----------
    intercept_s_per_m3 : float
        Intercept of the test, [s/m3]
    area_m2 : float
        Area of the filter, [m2]
    pressure_Pa : float
        Pressure across it, [Pa]
    viscosity_Pa_s : float
        Viscosity of the water, [Pa s]

    Returns
    -------
    float
        Resistance, [1/m]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    Of a clean plaster face it is small.

    References
    ----------
    [filtration-exercise]

    Examples
    --------
    >>> f'{face_resistance_per_m(7e5, 0.05, 7e4, 1e-3):.2e}'
    '2.45e+12'
    """
    driven = above(pressure_Pa, 0.0, "pressure_Pa", "Pa") * above(area_m2, 0.0, "area_m2", "m2")
    return (
        above(intercept_s_per_m3, 0.0, "intercept_s_per_m3", "s/m3")
        * driven
        / above(viscosity_Pa_s, 0.0, "viscosity_Pa_s", "Pa s")
    )
