"""What a wall asks of its lowest block: a demand to set beside a strength, not a design."""

from service.trade.validation import require

STANDARD_GRAVITY_M_S2 = 9.80665


def foot_stress_mpa(
    *, density_kg_m3: float, height_m: float, thickness_mm: float, line_load_kn_m: float = 0.0
) -> float:
    """Return the stress at the foot of a wall from its own weight and the load on its top.

    Parameters
    ----------
    density_kg_m3 : float
        Density of the wall, in kg/m3; above 0.
    height_m : float
        Height, in m; above 0.
    thickness_mm : float
        Thickness, in mm; above 0.
    line_load_kn_m : float
        Load on the top, in kN for each metre of wall; 0 or more.

    Returns
    -------
    float
        Mean stress at the foot in MPa, unrounded.

    Raises
    ------
    Invalid
        If a number is out of range.

    Source
    ------
    self-weight

    Examples
    --------
    1900 kg/m3 x 9.80665 m/s2 x 2.4 m = 44,718 Pa:

    >>> round(foot_stress_mpa(density_kg_m3=1900, height_m=2.4, thickness_mm=140), 6)
    0.044718
    """
    require(
        positive={"density_kg_m3": density_kg_m3, "height_m": height_m, "thickness_mm": thickness_mm},
        not_negative={"line_load_kn_m": line_load_kn_m},
    )
    return density_kg_m3 * STANDARD_GRAVITY_M_S2 * height_m / 1e6 + line_load_kn_m / thickness_mm


def slenderness(*, height_m: float, thickness_mm: float) -> float:
    """Return a wall's height over its thickness.

    Parameters
    ----------
    height_m : float
        Height, in m; above 0.
    thickness_mm : float
        Thickness, in mm; above 0.

    Returns
    -------
    float
        Height over thickness, unrounded.

    Raises
    ------
    Invalid
        If a number is not above 0.

    Source
    ------
    geometry

    Examples
    --------
    >>> round(slenderness(height_m=2.4, thickness_mm=140), 4)
    17.1429
    """
    require(positive={"height_m": height_m, "thickness_mm": thickness_mm})
    return height_m * 1000 / thickness_mm


def unit_strength_ratio(*, strength_mpa: float, foot_stress_mpa: float) -> float:
    """Return how many times the foot stress a single block carried; it says nothing of a wall's strength.

    Parameters
    ----------
    strength_mpa : float
        Strength of a block, in MPa; above 0.
    foot_stress_mpa : float
        Stress at the foot of the wall, in MPa; above 0.

    Returns
    -------
    float
        Strength over stress, unrounded.

    Raises
    ------
    Invalid
        If a number is not above 0.

    Source
    ------
    stress

    Examples
    --------
    >>> unit_strength_ratio(strength_mpa=2.0, foot_stress_mpa=0.05)
    40.0
    """
    require(positive={"strength_mpa": strength_mpa, "foot_stress_mpa": foot_stress_mpa})
    return strength_mpa / foot_stress_mpa
