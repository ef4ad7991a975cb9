"""Presses for programs: gauges, calibrations, and the issued results that a replaced one touches."""

from service.desk import presses
from service.desk.presses import Bench
from service.web.authentication import ApiCaller
from service.web.room import Room

router = Room(prefix="/api/v1/presses", tags=["presses"])


@router.get("")
def show(caller: ApiCaller) -> Bench:
    """Give every press with gauges and calibrations, and every mould."""
    return presses.bench(caller)
