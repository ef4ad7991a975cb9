"""The intake for programs: customers, and jobs from the first question to their closing."""

from datetime import date
from typing import Annotated, Any, Literal
from uuid import UUID

from fastapi import Query
from pydantic import Field

from service.desk import customers, jobs_in_hand, people
from service.desk.customers import CustomerPage, Customers
from service.desk.intake import jobs, sheet
from service.desk.intake.jobs import Measures, Question
from service.desk.intake.sheet import Sheet
from service.desk.jobs_in_hand import JobCard, Jobs
from service.web.api_input import Line, Name, Number, Sent, maybe_typed
from service.web.authentication import ApiCaller
from service.web.room import Room

router = Room(prefix="/api/v1", tags=["intake"])

PageNumber = Annotated[int, Query(alias="page", ge=1, le=10_000)]
UNITS = {
    "wall_thickness_mm": "mm",
    "wall_height_m": "m",
    "roof_line_load_kn_m": "kN/m",
    "machine_pressure_mpa": "MPa",
    "machine_length_mm": "mm",
    "machine_width_mm": "mm",
    "machine_height_mm": "mm",
    "machine_density_kg_m3": "kg/m3",
}


class CustomerForm(Sent):
    """A new customer."""

    name: Annotated[Name, Field(examples=["Cy's Cob Yard"])]
    contact: Line | None = None
    language: Literal["en", "es"] | None = None


class QuestionForm(Sent):
    """The customer's question, what will be built, and the machine that is there."""

    site: Annotated[Name, Field(examples=["North paddock"])]
    question: Annotated[Line, Field(examples=["How little cement is enough?"])]
    question_kind: Literal["addition", "least stabiliser", "which soil", "meets code"]
    promised_on: date | None = None
    wall_thickness_mm: Annotated[Number | None, Field(examples=[140.0])] = None
    wall_height_m: Annotated[Number | None, Field(examples=[2.4])] = None
    roof_line_load_kn_m: Number | None = None
    machine_pressure_mpa: Number | None = None
    machine_length_mm: Number | None = None
    machine_width_mm: Number | None = None
    machine_height_mm: Number | None = None
    machine_density_kg_m3: Number | None = None

    def asked(self) -> Question:
        """Return what is asked, as the desk takes it."""
        measures = {name: maybe_typed(getattr(self, name), unit) for name, unit in UNITS.items()}
        return Question(
            site=self.site,
            question=self.question,
            question_kind=self.question_kind,
            promised_on=self.promised_on,
            measures=Measures(**measures),
        )


class JobForm(QuestionForm):
    """A new job: for a customer who is known, or for a new one."""

    customer_id: UUID | None = None
    new_customer: Annotated[Name | None, Field(description="In place of customer_id.")] = None
    criteria: Annotated[
        tuple[Name, ...], Field(max_length=20, description="Keys of the codes and rules that apply.")
    ] = ()


class JobCorrection(QuestionForm):
    """The customer's question in truth, and why it was written down otherwise."""

    because: Annotated[Line, Field(examples=["The customer measured the wall again."])]


class CodesForm(Sent):
    """The codes and rules of a job."""

    criteria: Annotated[
        tuple[Name, ...], Field(max_length=20, description="Keys of codes and rules; none is allowed too.")
    ]


class CloseForm(Sent):
    """Why a job is closed."""

    because: Annotated[Line, Field(examples=["The customer has sold the land."])]


@router.get("/customers")
def list_customers(caller: ApiCaller, page_number: PageNumber = 1) -> Customers:
    """Give a page of customers, by name."""
    return customers.customers(caller, page=page_number)


@router.post("/customers", status_code=201)
def add_customer(caller: ApiCaller, sent: CustomerForm) -> dict[str, Any]:
    """Add a customer."""
    done = people.add_customer(caller, name=sent.name, contact=sent.contact, language=sent.language)
    return {"id": done.id}


@router.get("/customers/{customer_id}")
def show_customer(caller: ApiCaller, customer_id: UUID, page_number: PageNumber = 1) -> CustomerPage:
    """Give a customer with a page of their open jobs."""
    return customers.customer(caller, customer_id=customer_id, page=page_number)


@router.get("/jobs")
def list_jobs(caller: ApiCaller, page_number: PageNumber = 1, closed: bool = False) -> Jobs:
    """List a page of jobs, newest first. Customers get their own."""
    return jobs_in_hand.jobs(caller, page=page_number, closed=closed)


@router.post("/jobs", status_code=201)
def open_job(caller: ApiCaller, sent: JobForm) -> dict[str, Any]:
    """Open a job; its number is the next."""
    done = jobs.open_job(
        caller,
        asked=sent.asked(),
        customer_id=sent.customer_id,
        new_customer=sent.new_customer,
        criteria=sent.criteria,
    )
    return {"id": done.id, "number": done.details["number"], "customer_id": done.details["customer"]}


@router.get("/jobs/{job_id}")
def show_job(caller: ApiCaller, job_id: UUID) -> JobCard:
    """Give one job and its stage."""
    return jobs_in_hand.card(caller, job_id=job_id)


@router.get("/jobs/{job_id}/intake")
def show_intake(caller: ApiCaller, job_id: UUID) -> Sheet:
    """Give the intake of a job."""
    return sheet.sheet(caller, job_id=job_id)


@router.post("/jobs/{job_id}/corrections", status_code=201)
def correct_job(caller: ApiCaller, job_id: UUID, sent: JobCorrection) -> dict[str, Any]:
    """Correct a job; the first values stay in the history."""
    done = jobs.correct_job(caller, job_id=job_id, asked=sent.asked(), because=sent.because)
    return {"id": done.id, "correction_id": done.details["correction"]}


@router.post("/jobs/{job_id}/codes", status_code=201)
def choose_codes(caller: ApiCaller, job_id: UUID, sent: CodesForm) -> dict[str, Any]:
    """Choose the codes and rules of a job. Those it had stay as they were copied."""
    done = jobs.choose_criteria(caller, job_id=job_id, criteria=sent.criteria)
    return {"id": done.id, "added": done.details["added"], "removed": done.details["removed"]}


@router.post("/jobs/{job_id}/close", status_code=201)
def close_job(caller: ApiCaller, job_id: UUID, sent: CloseForm) -> dict[str, Any]:
    """Close a job."""
    return {"id": jobs.close_job(caller, job_id=job_id, because=sent.because).id}


@router.post("/jobs/{job_id}/open-again", status_code=201)
def open_job_again(caller: ApiCaller, job_id: UUID, sent: CloseForm) -> dict[str, Any]:
    """Open a closed job again."""
    return {"id": jobs.open_again(caller, job_id=job_id, because=sent.because).id}
