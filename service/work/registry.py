"""The names of the worked calculations and the file of each, opened only when it is asked for."""

from importlib import import_module

from service.errors import NotFound
from service.work.calculation import Calculation

# Name to file, in the order of the contract. Each file holds one `CALCULATION`; nothing is imported
# before it is asked for, so that a batch sheet does not wait for scipy.
FILES = {
    "moisture": "moisture",
    "batch": "batch",
    "press": "press",
    "grading": "grading",
    "hydrometer": "hydrometer",
    "jar": "jar",
    "limits": "limits",
    "classify": "classify",
    "blend": "blend",
    "suitability": "suitability",
    "strength": "strength",
    "wall": "wall",
    "cost": "cost",
    "site": "site",
    "age": "age",
    "shrinkage": "shrinkage",
    "density": "density",
    "absorption": "absorption",
    "flexure": "flexure",
    "shape": "shape",
    "rule": "rule",
    "tolerance": "tolerance",
    "content": "content",
    "shares": "shares",
    "survival": "survival",
}


def names() -> list[str]:
    """Return the name of every calculation, in the order of the contract."""
    return list(FILES)


def find(name: str) -> Calculation:
    """Return the calculation ``name``, importing its file."""
    if name not in FILES:
        raise NotFound("There is no calculation of this name.", {"name": f"One of: {', '.join(FILES)}."})
    calculation: Calculation = import_module(f"service.work.{FILES[name]}").CALCULATION
    return calculation
