"""Presses, gauges and moulds as they are entered, corrected and taken out of use; what points at them keeps them."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, TypeVar
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import OWNERS, Caller, Done, act
from service.errors import Conflict, Invalid, NotFound
from service.records import presses as records
from service.records.as_read import Quantities, columns_of, corrected
from service.records.presses import Gauge, Mould, Press
from service.trade.press import calibration as pressing
from service.typed import Typed


@dataclass(frozen=True)
class PressGiven:
    """A press as it is entered or corrected; without a share of the force the usual one is taken."""

    name: str
    forms: bool
    crushes: bool
    ram_diameter_mm: Typed
    rams: int
    efficiency: Typed | None
    rating_kn: Typed | None
    working_limit_kn: Typed | None

    def columns(self) -> dict[str, Any]:
        """Return the words of it that are no quantities."""
        return {"name": self.name, "forms": self.forms, "crushes": self.crushes, "rams": self.rams}

    def quantities(self) -> dict[str, Typed | None]:
        """Return what was typed with a unit."""
        return {
            "ram_diameter_mm": self.ram_diameter_mm,
            "efficiency": self.efficiency or USUAL_SHARE,
            "rating_kn": self.rating_kn,
            "working_limit_kn": self.working_limit_kn,
        }


# Common practice, no published source: seals take about a twentieth of the force. Every result made without a
# calibration says that its scale is known to about one part in twenty.
USUAL_SHARE = Typed(0.95, "95", "%")


@act("press.add", by=OWNERS)
def add_press(session: Session, caller: Caller, *, given: PressGiven) -> Done:
    """Add a press; one that crushes needs a rating and a working limit below it."""
    _check_press(given)
    press = Press(**given.columns(), **columns_of(given.quantities()))
    session.add(press)
    session.flush()
    return Done("press", press.id, {"name": given.name})


@act("press.correct", by=OWNERS)
def correct_press(session: Session, caller: Caller, *, press_id: UUID, given: PressGiven, because: str) -> Done:
    """Correct a press; readings without a calibration are worked out anew with it, issued results stay."""
    _check_press(given)
    press = _in_use(session, Press, press_id)
    _correct(session, caller, press, words=given.columns(), typed=given.quantities(), because=because)
    return Done("press", press.id, {"because": because})


def _check_press(given: PressGiven) -> None:
    if not (given.forms or given.crushes):
        raise Invalid("A press forms blocks, crushes them, or both.", {"forms": "Choose at least one."})
    if given.crushes or given.working_limit_kn is not None:
        _check_limit(given.rating_kn, given.working_limit_kn)
    share = given.efficiency or USUAL_SHARE
    pressing.press_by_geometry(ram_diameter_mm=given.ram_diameter_mm.value, efficiency=share.value, rams=given.rams)


def _check_limit(rating_kn: Typed | None, working_limit_kn: Typed | None) -> None:
    if rating_kn is None:
        raise Invalid("A crushing press needs its rating.", {"rating_kn": "Read it off the press's plate."})
    if working_limit_kn is None or not 0 < working_limit_kn.value < rating_kn.value:
        sentence = "Set a limit below the rating; people stop there."
        raise Invalid("A crushing press needs a working limit.", {"working_limit_kn": sentence})


@dataclass(frozen=True)
class GaugeGiven:
    """A gauge as it is entered or corrected; its dial keeps the unit it came with."""

    name: str
    graduation_mpa: Typed
    least_mpa: Typed | None
    full_scale_mpa: Typed

    def quantities(self) -> dict[str, Typed | None]:
        """Return what was typed with a unit."""
        return {
            "graduation_mpa": self.graduation_mpa,
            "least_mpa": self.least_mpa or Typed(0.0, "0", self.graduation_mpa.unit),
            "full_scale_mpa": self.full_scale_mpa,
        }


@act("gauge.add", by=OWNERS)
def add_gauge(session: Session, caller: Caller, *, press_id: UUID, unit: str, given: GaugeGiven) -> Done:
    """Add a gauge to a press."""
    _in_use(session, Press, press_id)
    _check_gauge(given)
    gauge = Gauge(press_id=press_id, name=given.name, unit=unit, **columns_of(given.quantities()))
    session.add(gauge)
    session.flush()
    return Done("gauge", gauge.id, {"name": given.name, "press": press_id})


@act("gauge.correct", by=OWNERS)
def correct_gauge(session: Session, caller: Caller, *, gauge_id: UUID, given: GaugeGiven, because: str) -> Done:
    """Correct a gauge's name, range or graduation."""
    _check_gauge(given)
    gauge = _in_use(session, Gauge, gauge_id)
    _correct(session, caller, gauge, words={"name": given.name}, typed=given.quantities(), because=because)
    return Done("gauge", gauge.id, {"because": because})


def _check_gauge(given: GaugeGiven) -> None:
    if given.graduation_mpa.value <= 0:
        raise Invalid("This gauge has no graduation.", {"graduation_mpa": "The smallest step on the dial, above zero."})
    if given.full_scale_mpa.value <= given.graduation_mpa.value:
        raise Invalid("This gauge has no range.", {"full_scale_mpa": "Above the smallest step on the dial."})


@dataclass(frozen=True)
class MouldGiven:
    """A mould by its inside measures, as it is entered or corrected."""

    name: str
    length_mm: Typed
    width_mm: Typed
    height_mm: Typed

    def quantities(self) -> dict[str, Typed | None]:
        """Return what was typed with a unit."""
        return {"length_mm": self.length_mm, "width_mm": self.width_mm, "height_mm": self.height_mm}


@act("mould.add", by=OWNERS)
def add_mould(session: Session, caller: Caller, *, given: MouldGiven) -> Done:
    """Add a mould by its inside measures."""
    _check_mould(given)
    mould = Mould(name=given.name, **columns_of(given.quantities()))
    session.add(mould)
    session.flush()
    return Done("mould", mould.id, {"name": given.name})


@act("mould.correct", by=OWNERS)
def correct_mould(session: Session, caller: Caller, *, mould_id: UUID, given: MouldGiven, because: str) -> Done:
    """Correct a mould; blocks pressed before keep the sides that were kept with them."""
    _check_mould(given)
    mould = _in_use(session, Mould, mould_id)
    _correct(session, caller, mould, words={"name": given.name}, typed=given.quantities(), because=because)
    return Done("mould", mould.id, {"because": because})


def _check_mould(given: MouldGiven) -> None:
    for field, typed in given.quantities().items():
        if typed is not None and typed.value <= 0:
            raise Invalid("A mould has an inside.", {field: "Above zero."})


@act("press.retire", by=OWNERS)
def retire_press(session: Session, caller: Caller, *, press_id: UUID) -> Done:
    """Take a press out of use with its gauges; readings taken at it keep it."""
    press = _in_use(session, Press, press_id)
    gauges = [gauge for owner, gauge in records.presses(session) if owner.id == press_id and gauge is not None]
    for gauge in gauges:
        _retire_gauge(session, caller, gauge)
    press.ended_at = caller.stores.clock()
    return Done("press", press.id, {"gauges": [gauge.id for gauge in gauges]})


@act("gauge.retire", by=OWNERS)
def retire_gauge(session: Session, caller: Caller, *, gauge_id: UUID) -> Done:
    """Take a gauge out of use; readings taken at it keep it and its calibrations."""
    gauge = _in_use(session, Gauge, gauge_id)
    _retire_gauge(session, caller, gauge)
    return Done("gauge", gauge.id)


def _retire_gauge(session: Session, caller: Caller, gauge: Gauge) -> None:
    if records.open_session(session, gauge.id) is not None:
        raise Conflict("Somebody is crushing at this gauge. Read its zero on the page Crushing first.")
    gauge.ended_at = caller.stores.clock()


@act("mould.retire", by=OWNERS)
def retire_mould(session: Session, caller: Caller, *, mould_id: UUID) -> Done:
    """Take a mould out of use; recipes and blocks made with it keep it."""
    mould = _in_use(session, Mould, mould_id)
    mould.ended_at = caller.stores.clock()
    return Done("mould", mould.id)


Tool = TypeVar("Tool", Press, Gauge, Mould)


def _in_use(session: Session, table: type[Tool], tool_id: UUID) -> Tool:
    found = session.get(table, tool_id)
    if found is None or found.ended_at is not None:
        raise NotFound(f"There is no such {table.__name__.lower()} in use.")
    return found


def _correct(
    session: Session,
    caller: Caller,
    row: Press | Gauge | Mould,
    *,
    words: Mapping[str, Any],
    typed: Quantities,
    because: str,
) -> None:
    at = caller.stores.clock()
    corrected(session, row, typed=typed, words=words, at=at, by=caller.doer, because=because)
