"""Walls that stand in one piece with their floor: how far liquid bows them, or widens them all round."""

from __future__ import annotations

from claybed.physics._ranges import above
from claybed.physics.buoyancy import STANDARD_GRAVITY


def upright_deflection_m(
    head_m: float, *, thickness_m: float, modulus_Pa: float, liquid_kg_per_m3: float
) -> float:
    """How far the top of a wall leans out that is held at its foot alone and holds liquid to the top.

    p0 h^4 / (30 E I), with I = t^3 / 12 for a strip of unit width and p0 = rho g h.

    Parameters
    ----------
    head_m : float
        Height of liquid against it, [m]
    thickness_m : float
        Thickness of the wall, [m]
    modulus_Pa : float
        Elastic modulus of the wall, [Pa]
    liquid_kg_per_m3 : float
        Density of the liquid, [kg/m3]

    Returns
    -------
    float
        Movement of the top edge, [m]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    A foot that cannot turn, as of a wall that is one with its floor. Walls that hold one another at corners
    move less, so this is an upper bound however long the wall is.

    References
    ----------
    [beam-theory]

    Examples
    --------
    >>> lean = upright_deflection_m(
    ...     0.100, thickness_m=0.004, modulus_Pa=3e9, liquid_kg_per_m3=1550.0
    ... )
    >>> round(1000 * lean, 3)
    0.317
    """
    head = above(head_m, 0.0, "head_m", "m")
    base_Pa = above(liquid_kg_per_m3, 0.0, "liquid_kg_per_m3", "kg/m3") * STANDARD_GRAVITY * head
    stiffness = above(modulus_Pa, 0.0, "modulus_Pa", "Pa") * above(thickness_m, 0.0, "thickness_m", "m") ** 3
    return base_Pa * head**4 * 12.0 / (30.0 * stiffness)


def ring_growth_m(pressure_Pa: float, radius_m: float, *, thickness_m: float, modulus_Pa: float) -> float:
    """How far the wall of a round vessel moves out under an even pressure.

    p r^2 / (E t).

    Parameters
    ----------
    pressure_Pa : float
        Pressure on the wall, [Pa]
    radius_m : float
        Radius of the wall, [m]
    thickness_m : float
        Thickness of the wall, [m]
    modulus_Pa : float
        Elastic modulus of the wall, [Pa]

    Returns
    -------
    float
        Growth of the radius, [m]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    A thin wall. With the pressure at the base it is an upper bound; the floor holds the foot as well.

    References
    ----------
    [hydrostatics]

    Examples
    --------
    >>> round(1e6 * ring_growth_m(1500.0, 0.100, thickness_m=0.003, modulus_Pa=3e9), 2)
    1.67
    """
    load = above(pressure_Pa, 0.0, "pressure_Pa", "Pa") * above(radius_m, 0.0, "radius_m", "m") ** 2
    return load / (above(modulus_Pa, 0.0, "modulus_Pa", "Pa") * above(thickness_m, 0.0, "thickness_m", "m"))


def foot_moment_N(head_m: float, *, liquid_kg_per_m3: float) -> float:
    """Bending moment at the foot of a wall that liquid leans on, for each metre of its length.

    rho g h^3 / 6.

    Parameters
    ----------
    head_m : float
        Height of liquid against it, [m]
    liquid_kg_per_m3 : float
        Density of the liquid, [kg/m3]

    Returns
    -------
    float
        Moment for each metre of wall, N m / m, [N]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    The force rho g h^2 / 2 acts a third of the height up. Walls that hold one another at corners bring less
    of it to the foot.

    References
    ----------
    [hydrostatics]

    Examples
    --------
    >>> round(foot_moment_N(0.250, liquid_kg_per_m3=1600.0), 1)
    40.9
    """
    head = above(head_m, 0.0, "head_m", "m")
    return above(liquid_kg_per_m3, 0.0, "liquid_kg_per_m3", "kg/m3") * STANDARD_GRAVITY * head**3 / 6.0


def joint_gap_m(
    load_N_per_m: float, span_m: float, *, width_m: float, thickness_m: float, modulus_Pa: float
) -> float:
    """How far two like flanges bow apart between two bolts, when something presses them apart.

    2 x 5 q L^4 / (384 E I), with I = b t^3 / 12.

    Parameters
    ----------
    load_N_per_m : float
        Force that parts them, for each metre of joint, [N/m]
    span_m : float
        Way from bolt to bolt, [m]
    width_m : float
        Width of a flange, out from the wall, [m]
    thickness_m : float
        Thickness of one flange, [m]
    modulus_Pa : float
        Elastic modulus of the flange, [Pa]

    Returns
    -------
    float
        Opening in the middle, both flanges together, [m]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    Ends free to turn, and no help from the wall that a flange stands on: an upper bound.

    References
    ----------
    [beam-theory]

    Examples
    --------
    >>> gap = joint_gap_m(100.0, 0.060, width_m=0.014, thickness_m=0.005, modulus_Pa=2.6e9)
    >>> round(1000 * gap, 3)
    0.089
    """
    load = above(load_N_per_m, 0.0, "load_N_per_m", "N/m")
    span = above(span_m, 0.0, "span_m", "m")
    inertia_m4 = above(width_m, 0.0, "width_m", "m") * above(thickness_m, 0.0, "thickness_m", "m") ** 3 / 12.0
    return 10.0 * load * span**4 / (384.0 * above(modulus_Pa, 0.0, "modulus_Pa", "Pa") * inertia_m4)
