"""Limits a soil should meet, for programs: envelopes, thresholds and shrinkage bands, and the shop's own copies."""

from typing import Annotated, Any
from uuid import UUID

from pydantic import Field

from service.desk import soil_limits as bands
from service.desk.soil_limits import SoilLimitsView
from service.errors import Invalid
from service.trade.soil.soil_limits import ENVELOPE, LOSS, OWN_ENVELOPE, SHRINKAGE
from service.web.api_input import Count, Line, Name, Number, Sent
from service.web.authentication import ApiCaller
from service.web.room import Room

router = Room(prefix="/api/v1/soil-limits", tags=["limits a soil should meet"])


class BoundForm(Sent):
    """Between which shares the curve of a soil is wanted at one size."""

    size_mm: Annotated[Number, Field(examples=[0.075])]
    low: Annotated[Number, Field(examples=[0.15])]
    high: Annotated[Number, Field(examples=[0.35])]


class StepForm(Sent):
    """From which shrinkage on so many parts of soil go to one of cement."""

    from_mm: Annotated[Number, Field(examples=[15])]
    parts: Annotated[Count, Field(examples=[16])]


class SoilLimitForm(Sent):
    """The shop's own copy: bounds of an envelope, low and high of a threshold, bands and end, or a limit."""

    key: Annotated[Name, Field(examples=["threshold:fines-window"], description='"envelope:own-" makes a new one.')]
    rests_on: Annotated[Line, Field(examples=["Forty walls of ours"])]
    name: Name | None = None
    bounds: Annotated[tuple[BoundForm, ...] | None, Field(max_length=40)] = None
    low: Number | None = None
    high: Number | None = None
    bands: Annotated[tuple[StepForm, ...] | None, Field(max_length=40)] = None
    to_mm: Number | None = None

    def values(self) -> dict[str, Any]:
        """Return what the copy says, as it is kept; refused where something is missing or does not belong."""
        needed, optional = self._keys()
        faults = {name: "This is required." for name in needed if getattr(self, name) is None}
        given = self.model_fields_set - {"key", "rests_on"}
        faults |= dict.fromkeys(sorted(given - {*needed, *optional}), "This does not go with such a key.")
        if faults:
            raise Invalid("This copy cannot be saved.", faults)
        kept: dict[str, Any] = {name: getattr(self, name) for name in (*needed, *optional)}
        if self.bounds is not None:
            kept["bounds"] = [one.model_dump() for one in self.bounds]
        if self.bands is not None:
            kept["bands"] = [[one.from_mm, one.parts] for one in self.bands]
        return {**kept, "rests_on": self.rests_on}

    def _keys(self) -> tuple[tuple[str, ...], tuple[str, ...]]:
        if self.key.startswith(ENVELOPE):
            return (("name", "bounds") if self.key.startswith(OWN_ENVELOPE) else ("bounds",)), ()
        if self.key == SHRINKAGE:
            return ("bands", "to_mm"), ()
        return (("high",), ()) if self.key == LOSS else ((), ("low", "high"))


@router.get("")
def show(caller: ApiCaller) -> SoilLimitsView:
    """List the limits a soil should meet that apply here, the published ones, and the shop's own copies."""
    return bands.known(caller)


@router.post("", status_code=201)
def keep(caller: ApiCaller, sent: SoilLimitForm) -> dict[str, Any]:
    """Save the shop's own copy of a soil limit; it applies from now on."""
    done = bands.keep_own(caller, key=sent.key, values=sent.values())
    return {"id": done.id, "key": done.details["key"]}


@router.post("/{own_id}/end", status_code=201)
def end(caller: ApiCaller, own_id: UUID) -> dict[str, Any]:
    """Use the published values again."""
    return {"id": bands.end_own(caller, own_id=own_id).id}
