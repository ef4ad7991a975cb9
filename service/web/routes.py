"""Which rooms have a door: every page and every API module, in one list."""

from fastapi import FastAPI

from service.web import health, old_addresses
from service.web.api import blending as blending_api
from service.web.api import block_tests as block_tests_api
from service.web.api import crushing as crushings_api
from service.web.api import intake as intake_api
from service.web.api import invoices as invoices_api
from service.web.api import mixing as mixing_api
from service.web.api import moisture as moisture_api
from service.web.api import offers as offers_api
from service.web.api import photos as photos_api
from service.web.api import plan as plan_api
from service.web.api import presses as presses_api
from service.web.api import pressing as pressing_api
from service.web.api import results as results_api
from service.web.api import sacks as sacks_api
from service.web.api import site as site_api
from service.web.api import soil_limits as soil_limits_api
from service.web.api import soils as soils_api
from service.web.api import tables as tables_api
from service.web.api import work
from service.web.pages import (
    backups,
    blending,
    block_tests,
    blocks,
    calculator,
    calendars,
    checking,
    codes,
    crushing,
    curing,
    customers,
    expected_strength,
    exporting,
    importing,
    intake,
    invoices,
    jobs,
    labels,
    mail,
    materials,
    mixing,
    moisture,
    offers,
    offline,
    opening_hours,
    overview,
    people,
    photos,
    plan,
    presses,
    pressing,
    questions,
    results,
    sacks,
    sign_in,
    site,
    slips,
    soil_limits,
    soils,
    tablets,
    today,
    you,
    your_soils,
)

# The intake comes before the jobs: "/jobs/new" is no job.
PAGES = (
    sign_in,
    offline,
    tablets,
    today,
    labels,
    calendars,
    you,
    intake,
    sacks,
    soils,
    customers,
    overview,
    jobs,
    offers,
    questions,
    slips,
    photos,
    people,
    mail,
    opening_hours,
    backups,
    exporting,
    importing,
    invoices,
    presses,
    materials,
    codes,
    soil_limits,
    blending,
    moisture,
    site,
    plan,
    mixing,
    pressing,
    curing,
    crushing,
    blocks,
    block_tests,
    results,
    checking,
    expected_strength,
    your_soils,
    calculator,
)
PROGRAMS = (
    work,
    crushings_api,
    results_api,
    intake_api,
    soils_api,
    sacks_api,
    photos_api,
    soil_limits_api,
    plan_api,
    blending_api,
    moisture_api,
    site_api,
    presses_api,
    mixing_api,
    pressing_api,
    block_tests_api,
    offers_api,
    tables_api,
    invoices_api,
)


def include(app: FastAPI) -> None:
    """Put every page and every API twin under its address."""
    # The routes themselves, not routers within routers, which would be gone through twice at each request.
    for room in (*PAGES, *PROGRAMS, health):
        app.router.routes += room.router.routes
    old_addresses.include(app)
