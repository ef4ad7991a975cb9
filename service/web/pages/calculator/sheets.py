"""Every sheet of the Calculator, by what it is about."""

from service.errors import NotFound
from service.web.pages.calculator.block_forms import BLOCKS
from service.web.pages.calculator.mix_forms import MIXES
from service.web.pages.calculator.parts import Sheet
from service.web.pages.calculator.soil_forms import SOILS

SHELVES: dict[str, dict[str, Sheet]] = {"Soil": SOILS, "Mix": MIXES, "Press, block and wall": BLOCKS}
SHEETS: dict[str, Sheet] = SOILS | MIXES | BLOCKS


def sheet_of(name: str) -> Sheet:
    """Return the sheet of a calculation."""
    if name not in SHEETS:
        raise NotFound("There is no calculation of this name.")
    return SHEETS[name]
