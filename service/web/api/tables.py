"""Readings and the overview for programs: the rows that the files of the pages Job, Result and Export have."""

from collections.abc import Sequence
from io import BytesIO
from typing import Annotated
from uuid import UUID

from fastapi import Query, Response

from service.desk import imports, overview
from service.desk.imports import ImportView
from service.desk.intake import compared
from service.desk.intake.compared import SoilsBeside
from service.desk.overview import Overview
from service.desk.results import issued, readings_out
from service.paper import exporting
from service.paper.readings_table import frozen_job
from service.web.authentication import ApiCaller
from service.web.room import Room

router = Room(prefix="/api/v1", tags=["readings and overview"])

After = Annotated[int, Query(ge=0, le=10**9, description="`next` of the answer before; 0 begins.")]


@router.get("/readings")
def show_all(caller: ApiCaller, after: After = 0) -> Response:
    """Give the readings of the next jobs after a number; `next` is null at the end. Imported ones are apart."""
    found = readings_out.after(caller, number=after)
    return _given(caller, found, more={"next": found[-1].number if found else None})


@router.get("/jobs/{job_id}/readings")
def show_job(caller: ApiCaller, job_id: UUID) -> Response:
    """Give the readings of a job as they are today, one object a block."""
    return _given(caller, [readings_out.of_job(caller, job_id=job_id)])


@router.get("/results/{issued_id}/readings")
def show_issued(caller: ApiCaller, issued_id: UUID) -> Response:
    """Give the readings of an issued result as they were frozen, one object a block."""
    return _given(caller, [frozen_job(issued.open_data(caller, issued_id=issued_id).data)])


@router.get("/imports")
def list_imports(caller: ApiCaller) -> list[ImportView]:
    """Give the files of older readings, the newest first."""
    return imports.brought(caller)


@router.get("/imports/{file_id}/readings")
def show_imported(caller: ApiCaller, file_id: UUID) -> Response:
    """Give the readings of such a file, one object a block."""
    imports.show(caller, file_id=file_id)
    return _given(caller, readings_out.of_file(caller, file_id=file_id))


@router.get("/overview")
def show_overview(caller: ApiCaller) -> Overview:
    """Give how the shop does: weeks, late jobs, and what runs out."""
    return overview.overview(caller)


@router.get("/customers/{customer_id}/soils")
def show_soils(caller: ApiCaller, customer_id: UUID) -> SoilsBeside:
    """Give the soils of a customer side by side."""
    return compared.beside(caller, customer_id=customer_id)


def _given(caller: ApiCaller, jobs: Sequence[object], more: dict[str, object] | None = None) -> Response:
    out = BytesIO()
    exporting.write(out, jobs, caller.shop, form="json", more=more)
    return Response(out.getvalue(), media_type="application/json", headers={"Cache-Control": "private, no-store"})
