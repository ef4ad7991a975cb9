"""Which rooms have a door: every page and every API module, in one list."""

from fastapi import FastAPI

from service.web.api import work
from service.web.pages import criteria, customer, materials, office, people, presses, results, sign_in

PAGES = (sign_in, office, people, presses, materials, criteria, results, customer)
PROGRAMS = (work,)


def include(app: FastAPI) -> None:
    """Put every page and every API twin under its address."""
    for room in PAGES:
        app.include_router(room.router, include_in_schema=False)
    for twin in PROGRAMS:
        app.include_router(twin.router)
