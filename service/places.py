"""Where templates and migrations stand: inside the package in a wheel, beside it in a checkout."""

from pathlib import Path

PACKAGE = Path(__file__).resolve().parent


def folder(name: str) -> Path:
    """Return the folder ``name``, looking inside the package first and beside it second."""
    for place in (PACKAGE / name, PACKAGE.parent / name):
        if place.is_dir():
            return place
    raise FileNotFoundError(f"The folder {name} belongs beside the package or inside it.")
