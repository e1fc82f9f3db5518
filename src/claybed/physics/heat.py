"""Setting plaster heats up: how much, how far, and how hot a finished piece may be dried."""

from __future__ import annotations

from claybed.physics._ranges import above, within
from claybed.physics.plaster import HEMIHYDRATE_KG_PER_MOL, free_water_per_100, set_mass_per_100


def hydration_heat_J_per_kg(
    *, hemihydrate_J_per_mol: float, gypsum_J_per_mol: float, water_J_per_mol: float
) -> float:
    """Heat given off per kilogram of hemihydrate.

    (H(hemihydrate) + 1.5 H(water) - H(gypsum)) / M(hemihydrate).

    Parameters
    ----------
    hemihydrate_J_per_mol : float
        Enthalpy of formation of the hemihydrate, [J/mol]
    gypsum_J_per_mol : float
        Enthalpy of formation of gypsum, [J/mol]
    water_J_per_mol : float
        Enthalpy of formation of liquid water, [J/mol]

    Returns
    -------
    float
        Heat given off, positive, [J/kg]

    Raises
    ------
    InputError
        If the enthalpies say that setting takes up heat.

    Notes
    -----
    At 25 C. Alpha gives about 117 kJ/kg, beta about 132; pottery plaster lies between.

    References
    ----------
    [llnl-dat], [crc-handbook]

    Examples
    --------
    >>> heat = hydration_heat_J_per_kg(
    ...     hemihydrate_J_per_mol=-1576.89e3, gypsum_J_per_mol=-2022.69e3, water_J_per_mol=-285.83e3
    ... )
    >>> round(heat / 1000, 1)
    117.5
    """
    given_J_per_mol = hemihydrate_J_per_mol + 1.5 * water_J_per_mol - gypsum_J_per_mol
    return above(given_J_per_mol, 0.0, "hemihydrate_J_per_mol", "J/mol") / HEMIHYDRATE_KG_PER_MOL


def adiabatic_rise_K(
    water_per_100: float,
    *,
    heat_J_per_kg: float,
    gypsum_J_per_kg_K: float,
    water_J_per_kg_K: float,
    purity_fraction: float = 1.0,
) -> float:
    """How far a pour warms if no heat gets away.

    100 p q / (set mass x c(gypsum) + free water x c(water)).

    Parameters
    ----------
    water_per_100 : float
        Water per 100 of plaster by mass, [per 100]
    heat_J_per_kg : float
        Heat given off per mass of hemihydrate, [J/kg]
    gypsum_J_per_kg_K : float
        Heat capacity of gypsum, [J/(kg K)]
    water_J_per_kg_K : float
        Heat capacity of water, [J/(kg K)]
    purity_fraction : float
        Share of hemihydrate in the plaster, by mass, [-]

    Returns
    -------
    float
        Rise of temperature, [K]

    Raises
    ------
    InputError
        If an amount is not positive or there is less water than the plaster binds.

    Notes
    -----
    An upper bound; the middle of a thick block comes near it.

    References
    ----------
    [llnl-dat], [ifa-3148]

    Examples
    --------
    >>> round(adiabatic_rise_K(
    ...     70.0, heat_J_per_kg=125e3, gypsum_J_per_kg_K=1080.0, water_J_per_kg_K=4186.0
    ... ), 1)
    36.4
    """
    above(heat_J_per_kg, 0.0, "heat_J_per_kg", "J/kg")
    above(gypsum_J_per_kg_K, 0.0, "gypsum_J_per_kg_K", "J/(kg K)")
    above(water_J_per_kg_K, 0.0, "water_J_per_kg_K", "J/(kg K)")
    held_J_per_K = (
        set_mass_per_100(purity_fraction=purity_fraction) * gypsum_J_per_kg_K
        + free_water_per_100(water_per_100, purity_fraction=purity_fraction) * water_J_per_kg_K
    )
    return 100.0 * purity_fraction * heat_J_per_kg / held_J_per_K


def slurry_temperature_C(
    water_C: float,
    plaster_C: float,
    water_per_100: float,
    *,
    water_J_per_kg_K: float,
    plaster_J_per_kg_K: float,
) -> float:
    """Temperature of the slurry before it begins to set.

    (w c(water) T(water) + 100 c(plaster) T(plaster)) / (w c(water) + 100 c(plaster)).

    Parameters
    ----------
    water_C : float
        Temperature of the water, [C]
    plaster_C : float
        Temperature of the plaster, [C]
    water_per_100 : float
        Water per 100 of plaster by mass, [per 100]
    water_J_per_kg_K : float
        Heat capacity of water, [J/(kg K)]
    plaster_J_per_kg_K : float
        Heat capacity of dry plaster, [J/(kg K)]

    Returns
    -------
    float
        Temperature of the mix, [C]

    Raises
    ------
    InputError
        If water or plaster is frozen or hotter than 60 C, or an amount is not positive.

    Notes
    -----
    Bucket and air left out. Dry plaster warms and cools more easily than water, so the water decides.

    References
    ----------
    [crc-handbook]

    Examples
    --------
    >>> round(slurry_temperature_C(
    ...     38.0, 20.0, 76.923, water_J_per_kg_K=4186.0, plaster_J_per_kg_K=820.0
    ... ), 1)
    34.3
    """
    within(water_C, 0.0, 60.0, "water_C", "C")
    within(plaster_C, 0.0, 60.0, "plaster_C", "C")
    held = above(water_per_100, 0.0, "water_per_100", "per 100") * above(
        water_J_per_kg_K, 0.0, "water_J_per_kg_K", "J/(kg K)"
    )
    plaster = 100.0 * above(plaster_J_per_kg_K, 0.0, "plaster_J_per_kg_K", "J/(kg K)")
    return (held * water_C + plaster * plaster_C) / (held + plaster)


def peak_temperature_C(start_C: float, rise_K: float, *, kept_fraction: float = 1.0) -> float:
    """Hottest the pour gets.

    start + kept x adiabatic rise.

    Parameters
    ----------
    start_C : float
        Temperature of the slurry, [C]
    rise_K : float
        Adiabatic rise, [K]
    kept_fraction : float
        Share of the heat that stays in, 1 for the middle of a thick block, [-]

    Returns
    -------
    float
        Peak temperature, [C]

    Raises
    ------
    InputError
        If the slurry is frozen or hotter than 60 C, the rise negative, or the share not from 0 to
        1.

    Notes
    -----
    A vessel of five litres kept about 0.8 of it. Enough to burn skin: nothing living goes into setting
    plaster.

    References
    ----------
    [ifa-3148]

    Examples
    --------
    >>> round(peak_temperature_C(20.0, 36.4, kept_fraction=0.8), 1)
    49.1
    """
    within(start_C, 0.0, 60.0, "start_C", "C")
    above(rise_K, 0.0, "rise_K", "K")
    return start_C + rise_K * within(kept_fraction, 0.0, 1.0, "kept_fraction", "")


def drying_margin_K(air_C: float, *, limit_C: float) -> float:
    """Room left below the temperature at which set plaster loses its combined water.

    limit - air.

    Parameters
    ----------
    air_C : float
        Temperature of the drying air, [C]
    limit_C : float
        Hottest air that keeps the gypsum whole, [C]

    Returns
    -------
    float
        Margin, negative when too hot, [K]

    Raises
    ------
    InputError
        If a temperature is not from -50 to 300 C.

    Notes
    -----
    The limit of 49 C (120 F) holds for damp room air; very dry air calcines plaster from about 40 C.

    References
    ----------
    [usg-ig502]

    Examples
    --------
    >>> drying_margin_K(50.0, limit_C=49.0)
    -1.0
    """
    within(air_C, -50.0, 300.0, "air_C", "C")
    return within(limit_C, -50.0, 300.0, "limit_C", "C") - air_C
