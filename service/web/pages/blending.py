"""The blend of a job: which share of sand would bring the soil into an envelope, with the curves."""

from typing import Annotated
from uuid import UUID

from fastapi import Query, Request
from fastapi.responses import HTMLResponse

from service.desk import jobs_in_hand
from service.desk.plan import blending
from service.desk.plan.blending import BlendSheet
from service.paper.charts import grading_chart
from service.paper.soil_points import Curve, Envelope
from service.trade.soil.grading import Passing
from service.trade.sources import SOURCES
from service.web.authentication import StaffCaller
from service.web.responses import page
from service.web.room import Room

router = Room()


@router.get("/jobs/{job_id}/plan/blend")
def show(
    request: Request,
    caller: StaffCaller,
    job_id: UUID,
    of: Annotated[list[UUID] | None, Query(max_length=8)] = None,
    envelope: str = "",
) -> HTMLResponse:
    """Show the proposed blend, and the curves of its parts beside its own."""
    sheet = blending.blend(caller, job_id=job_id, chosen=of or (), envelope=envelope)
    return page(
        request,
        "blend.html",
        caller=caller,
        job=jobs_in_hand.card(caller, job_id=job_id),
        sheet=sheet,
        chart=_chart(sheet),
        sources={key: one.named for key, one in SOURCES.items()},
    )


def _chart(sheet: BlendSheet) -> str:
    drawn = [(one.name, one.curve.points) for one in sheet.chosen]
    if sheet.proposal is not None:
        drawn.append(("the blend", sheet.proposal.passing))
    if not drawn:
        return ""
    edges = tuple((bound.size_mm, bound.low, bound.high) for bound in sheet.envelope.bounds)
    curves = tuple(_curve(name, points) for name, points in drawn)
    return grading_chart(curves, Envelope(sheet.envelope.name, edges), prefix="blend")


def _curve(name: str, points: tuple[Passing, ...]) -> Curve:
    return Curve(name, tuple((point.size_mm, point.share) for point in points))
