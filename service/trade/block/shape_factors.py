"""Height against thickness -> what published tables make of a measured strength, each by itself, never mixed."""

from collections.abc import Sequence
from typing import Literal

from service.trade.sources import SOURCES
from service.trade.validation import require

# The key of a table is that of its source; "" asks for none.
ShapeFactor = Literal["", "krefeld", "heathcote-jankulovski", "en-772-1"]
SHAPE_NAMES: dict[ShapeFactor, str] = {
    "krefeld": "Krefeld 1938",
    "heathcote-jankulovski": "Heathcote and Jankulovski 1992",
    "en-772-1": "EN 772-1 Annex A",
}

ASPECT_RATIOS = (0.0, 0.4, 0.7, 1.0, 3.0, 5.0)
KREFELD = (0.0, 0.50, 0.60, 0.70, 0.85, 1.00)
HEATHCOTE_JANKULOVSKI = (0.0, 0.25, 0.40, 0.58, 0.90, 1.00)

EN_772_1_WIDTHS_MM = (50.0, 100.0, 150.0, 200.0, 250.0)
EN_772_1_HEIGHTS_MM = (40.0, 50.0, 65.0, 100.0, 150.0, 200.0, 250.0)
EN_772_1 = (
    (0.80, 0.70, None, None, None),
    (0.85, 0.75, 0.70, None, None),
    (0.95, 0.85, 0.75, 0.70, 0.65),
    (1.15, 1.00, 0.90, 0.80, 0.75),
    (1.30, 1.20, 1.10, 1.00, 0.95),
    (1.45, 1.35, 1.25, 1.15, 1.10),
    (1.55, 1.45, 1.35, 1.25, 1.15),
)

SQUAT_RATIO, SLENDER_RATIO = 1.15, 2.00
SQUAT_OVER_SLENDER = 1.10
# The two moulds have 1.146 and 2.000; a trimmed cylinder that far from either is another cylinder.
RATIO_TOLERANCE = 0.02


def krefeld_factor(*, height_mm: float, thickness_mm: float) -> float:
    """Return Krefeld's factor on a measured strength.

    Parameters
    ----------
    height_mm : float
        Height of the specimen in the direction of the load, in mm; above 0.
    thickness_mm : float
        Its least width, in mm; above 0.

    Returns
    -------
    float
        Factor by straight line in height over thickness; 1 from a ratio of 5 on. Unrounded.

    Raises
    ------
    Invalid
        If a length is not above 0.

    Source
    ------
    krefeld : as tabulated by Morel, Pkla and Walker 2007.

    Examples
    --------
    A cube:

    >>> krefeld_factor(height_mm=100, thickness_mm=100)
    0.7
    """
    require(positive={"height_mm": height_mm, "thickness_mm": thickness_mm})
    return _between(height_mm / thickness_mm, ASPECT_RATIOS, KREFELD)


def heathcote_jankulovski_factor(*, height_mm: float, thickness_mm: float) -> float:
    """Return Heathcote and Jankulovski's factor on a measured strength.

    Parameters
    ----------
    height_mm : float
        Height of the specimen in the direction of the load, in mm; above 0.
    thickness_mm : float
        Its least width, in mm; above 0.

    Returns
    -------
    float
        Factor by straight line in height over thickness; 1 from a ratio of 5 on. Unrounded.

    Raises
    ------
    Invalid
        If a length is not above 0.

    Source
    ------
    heathcote-jankulovski : as tabulated by Morel, Pkla and Walker 2007.

    Examples
    --------
    >>> heathcote_jankulovski_factor(height_mm=100, thickness_mm=100)
    0.58
    """
    require(positive={"height_mm": height_mm, "thickness_mm": thickness_mm})
    return _between(height_mm / thickness_mm, ASPECT_RATIOS, HEATHCOTE_JANKULOVSKI)


def en_772_1_factor(*, height_mm: float, width_mm: float) -> float | None:
    """Return the shape factor of EN 772-1 Annex A, made for fired, concrete and stone units.

    Parameters
    ----------
    height_mm : float
        Height of the unit, in mm; above 0.
    width_mm : float
        Its least horizontal side, in mm; above 0.

    Returns
    -------
    float or None
        Factor by straight lines both ways, 250 mm and more taken as 250; None below 40 mm of height or 50 mm of
        width, and where the table is empty. Unrounded.

    Raises
    ------
    Invalid
        If a length is not above 0.

    Source
    ------
    en-772-1 : Annex A, Table A.1.

    Examples
    --------
    >>> en_772_1_factor(height_mm=100, width_mm=100)
    1.0
    >>> en_772_1_factor(height_mm=40, width_mm=200) is None
    True
    """
    require(positive={"height_mm": height_mm, "width_mm": width_mm})
    down = _place(min(height_mm, EN_772_1_HEIGHTS_MM[-1]), EN_772_1_HEIGHTS_MM)
    across = _place(min(width_mm, EN_772_1_WIDTHS_MM[-1]), EN_772_1_WIDTHS_MM)
    if down is None or across is None:
        return None
    total = 0.0
    for row, row_weight in down:
        for column, column_weight in across:
            factor = EN_772_1[row][column]
            if factor is None:
                return None
            total += row_weight * column_weight * factor
    return total


def shape_factor(table: ShapeFactor, *, height_mm: float, width_mm: float) -> float | None:
    """Return the factor of one table on the strength of a block as it stood under the press.

    Parameters
    ----------
    table : ShapeFactor
        Which table; "" asks for none.
    height_mm : float
        Height in the direction of the load, in mm; above 0.
    width_mm : float
        The lesser side of the loaded face, in mm; above 0.

    Returns
    -------
    float or None
        1 where no table is asked for; None where the table has nothing for this shape. Unrounded.

    Raises
    ------
    Invalid
        If a length is not above 0.

    Source
    ------
    krefeld, heathcote-jankulovski, en-772-1

    Examples
    --------
    >>> shape_factor("krefeld", height_mm=100, width_mm=100), shape_factor("", height_mm=100, width_mm=100)
    (0.7, 1.0)
    """
    if table == "krefeld":
        return krefeld_factor(height_mm=height_mm, thickness_mm=width_mm)
    if table == "heathcote-jankulovski":
        return heathcote_jankulovski_factor(height_mm=height_mm, thickness_mm=width_mm)
    if table == "en-772-1":
        return en_772_1_factor(height_mm=height_mm, width_mm=width_mm)
    return 1.0


def needs_reading(table: ShapeFactor) -> bool:
    """Return whether a table was recalled or read where it is quoted, so that nothing may rest on it unread.

    Parameters
    ----------
    table : ShapeFactor
        Which table.

    Returns
    -------
    bool
        False where no table is asked for.

    Source
    ------
    own-rule

    Examples
    --------
    >>> needs_reading("krefeld"), needs_reading("en-772-1"), needs_reading("")
    (True, True, False)
    """
    return table != "" and SOURCES[table].standing in ("memory", "second-hand")


def cylinder_strength_at_other_ratio_mpa(
    *, strength_mpa: float, height_mm: float, diameter_mm: float
) -> tuple[float, float] | None:
    """Return a cylinder's strength at the other height over diameter of the standard.

    Parameters
    ----------
    strength_mpa : float
        Measured strength in MPa; 0 or more.
    height_mm : float
        Height of the cylinder, in mm; above 0.
    diameter_mm : float
        Its diameter, in mm; above 0.

    Returns
    -------
    tuple[float, float] or None
        The other ratio, 2.00 or 1.15, and the strength there in MPa, unrounded; None for a cylinder that is
        more than 0.02 from both.

    Raises
    ------
    Invalid
        If a number is out of range.

    Source
    ------
    d1633 : strength at 1.15 is 1.10 times that at 2.00; cylinders only.

    Examples
    --------
    >>> ratio, strength = cylinder_strength_at_other_ratio_mpa(strength_mpa=2.0, height_mm=142.2, diameter_mm=71.1)
    >>> ratio, round(strength, 6)
    (1.15, 2.2)
    """
    require(positive={"height_mm": height_mm, "diameter_mm": diameter_mm}, not_negative={"strength_mpa": strength_mpa})
    ratio = height_mm / diameter_mm
    if abs(ratio - SLENDER_RATIO) <= RATIO_TOLERANCE:
        return SQUAT_RATIO, strength_mpa * SQUAT_OVER_SLENDER
    if abs(ratio - SQUAT_RATIO) <= RATIO_TOLERANCE:
        return SLENDER_RATIO, strength_mpa / SQUAT_OVER_SLENDER
    return None


def _between(value: float, places: Sequence[float], factors: Sequence[float]) -> float:
    found = _place(min(value, places[-1]), places)
    assert found is not None  # the tables start at 0
    return sum(weight * factors[row] for row, weight in found)


def _place(value: float, places: Sequence[float]) -> list[tuple[int, float]] | None:
    """Return the rows a value lies on or between, with their weights; None before the first."""
    for row, place in enumerate(places):
        if value == place:
            return [(row, 1.0)]
        if value < place:
            if row == 0:
                return None
            way = (value - places[row - 1]) / (place - places[row - 1])
            return [(row - 1, 1 - way), (row, way)]
    return None
