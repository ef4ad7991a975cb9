"""The blend for programs: which shares of soil and sand fit an envelope best."""

from typing import Annotated
from uuid import UUID

from fastapi import Query

from service.desk.plan import blending
from service.desk.plan.blending import BlendSheet
from service.web.authentication import ApiCaller
from service.web.room import Room

router = Room(prefix="/api/v1", tags=["plan"])


@router.get("/jobs/{job_id}/blend")
def show(
    caller: ApiCaller,
    job_id: UUID,
    of: Annotated[
        list[UUID] | None, Query(max_length=8, description="Soils and sands; two are chosen if left out.")
    ] = None,
    envelope: Annotated[str, Query(max_length=80, description="Key of an envelope.")] = "",
) -> BlendSheet:
    """Give the proposed blend with all curves, or why there is none."""
    return blending.blend(caller, job_id=job_id, chosen=of or (), envelope=envelope)
