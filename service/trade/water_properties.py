"""Density and viscosity of water by temperature."""

from service.trade.validation import refuse

COLDEST_C, WARMEST_C = 5.0, 40.0


def water_density_g_cm3(*, temperature_c: float) -> float:
    """Return the density of air-free water at one atmosphere.

    Parameters
    ----------
    temperature_c : float
        In degrees Celsius; 5 to 40.

    Returns
    -------
    float
        g/cm3, unrounded.

    Raises
    ------
    Invalid
        If the temperature is outside 5 to 40.

    Source
    ------
    kell-1975 : the quotient of polynomials, in kg/m3.

    Examples
    --------
    >>> round(water_density_g_cm3(temperature_c=20), 4)
    0.9982
    """
    _check(temperature_c)
    t = temperature_c
    above = 999.83952 + t * (
        16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - t * 280.54253e-12)))
    )
    return above / (1 + 16.879850e-3 * t) / 1000


def water_viscosity_mpa_s(*, temperature_c: float) -> float:
    """Return the dynamic viscosity of water at one atmosphere.

    Parameters
    ----------
    temperature_c : float
        In degrees Celsius; 5 to 40.

    Returns
    -------
    float
        mPa s, unrounded.

    Raises
    ------
    Invalid
        If the temperature is outside 5 to 40.

    Source
    ------
    kestin-1978 : relative to 1.002 mPa s at 20 C.

    Examples
    --------
    >>> water_viscosity_mpa_s(temperature_c=20)
    1.002
    """
    _check(temperature_c)
    below = 20 - temperature_c
    log10_ratio = below / (temperature_c + 96) * (1.2364 - 1.37e-3 * below + 5.7e-6 * below**2)
    return float(1.002 * 10**log10_ratio)


def _check(temperature_c: float) -> None:
    if not COLDEST_C <= temperature_c <= WARMEST_C:
        refuse({"temperature_c": f"This must be from {COLDEST_C:g} to {WARMEST_C:g} degrees Celsius."})
