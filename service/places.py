"""Where things are: templates and migrations, inside the package or beside it, and the data that nobody moved."""

import os
from pathlib import Path

PACKAGE = Path(__file__).resolve().parent


def folder(name: str) -> Path:
    """Return the folder ``name``, looking inside the package first and beside it second."""
    for place in (PACKAGE / name, PACKAGE.parent / name):
        if place.is_dir():
            return place
    raise FileNotFoundError(f"The folder {name} belongs beside the package or inside it.")


def data_folder() -> Path:
    """Return the folder for data when no setting names one: in the clone, else the account's own."""
    clone = PACKAGE.parent
    if (clone / "run").is_file():
        return clone / "data"
    return Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share") / "loambook"
