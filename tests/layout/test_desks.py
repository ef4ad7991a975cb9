"""Nobody goes round the doorway: every public function of a desk is a use case."""

import importlib
import inspect
import pkgutil

import pytest

from service import desk
from service.desk.doorway import USE_CASES

ROOMS = [found.name for found in pkgutil.walk_packages(desk.__path__, "service.desk.") if not found.ispkg]
# A room whose name begins with an underscore belongs to its desk alone; nothing outside may call it.
DESKS = [name for name in ROOMS if name != "service.desk.doorway" and "._" not in name]


@pytest.mark.parametrize("name", DESKS)
def test_every_public_function_of_a_desk_passes_the_doorway(name):
    module = importlib.import_module(name)
    public = {
        function
        for label, function in vars(module).items()
        if inspect.isfunction(function) and function.__module__ == name and not label.startswith("_")
    }
    assert public <= set(USE_CASES.values())
