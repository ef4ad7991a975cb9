"""What programs send of a sack and of a can, whether for the first time or to put it right."""

from datetime import date
from typing import Annotated

from pydantic import AwareDatetime, Field

from service.web.api_input import Line, Name, Number, Sent, Tick, Words


class SackWords(Sent):
    """What is written down of a sack."""

    label: Annotated[Line, Field(max_length=24, examples=["J12-A"])]
    mass_kg: Annotated[Number, Field(examples=[25.4])]
    received_at: AwareDatetime | None = None
    pit: Name | None = None
    dug_by: Name | None = None
    dug_on: date | None = None
    depth_m: Annotated[Number | None, Field(le=100)] = None
    topsoil_stripped: Tick | None = None
    colour: Name | None = None
    smell: Name | None = None
    roots: Name | None = None
    remarks: Words | None = None
    retained: Name | None = None
    retained_until: date | None = None


class CanForm(Sent):
    """A can with damp soil, with the same soil dried, and empty."""

    wet_kg: Annotated[Number, Field(examples=[0.512])]
    dry_kg: Annotated[Number, Field(examples=[0.478])]
    can_kg: Annotated[Number | None, Field(examples=[0.051])] = None
