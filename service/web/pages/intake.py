"""The intake of a job: what is asked, the sacks that came, and what they hold."""

from uuid import UUID

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk import jobs_in_hand
from service.desk.intake import jobs, sacks, sheet
from service.desk.intake.jobs import Measures, Question
from service.desk.intake.sacks import Sack
from service.typed import FREE, Typed, TypedPrice
from service.web.authentication import SentForm, StaffCaller, as_uuid
from service.web.error_pages import form_of
from service.web.form_input import FormReader, reading
from service.web.responses import page, see
from service.web.room import Room

router = Room()

QUESTIONS = (
    ("addition", "Is an addition worth it?", "sand hauled in, another soil, a little cement"),
    ("least stabiliser", "What is the least stabiliser that passes?", ""),
    ("which soil", "Which soil is the best?", ""),
    ("meets code", "Does it meet a code?", ""),
)
KINDS = {
    "wall_thickness_mm": "length",
    "wall_height_m": "height",
    "roof_line_load_kn_m": "line_load",
    "machine_pressure_mpa": "pressure",
    "machine_length_mm": "length",
    "machine_width_mm": "length",
    "machine_height_mm": "length",
    "machine_density_kg_m3": "density",
}
COSTS = (("dug", "Nothing: dug on site"), ("bought", "It has a price"), ("unknown", "Not known yet"))
STRIPPED = (("yes", "Stripped"), ("no", "Not stripped"))


@router.get("/jobs/new")
def show_new(request: Request, caller: StaffCaller, customer: UUID | None = None) -> HTMLResponse:
    """Show the form of a new job, for a customer if one is named."""
    # A form that was refused names the customer in what was typed.
    chosen = customer or as_uuid(getattr(request.state, "typed", {}).get("customer_id", ""))
    offered = jobs.form(caller, customer_id=chosen)
    return page(request, "job_new.html", caller=caller, offered_here=offered, chosen=chosen, questions=QUESTIONS)


@router.post("/jobs")
@form_of("/jobs/new")
def open_job(caller: StaffCaller, form: SentForm) -> RedirectResponse:
    """Open a job."""
    with reading(form, caller.shop) as read:
        asked, customer_id = _question(read), read.maybe_id("customer_id")
        new_customer, new_contact = read.maybe_text("new_customer", most=80), read.maybe_text("new_contact")
        if not (read.raw("customer_id") or new_customer):
            read.wrong("new_customer", "Choose the customer, or name the new one here.")
    done = jobs.open_job(
        caller,
        asked=asked,
        customer_id=customer_id,
        new_customer=new_customer,
        new_contact=new_contact,
        criteria=_criteria(form),
    )
    return see(f"/jobs/{done.id}/intake")


def _question(read: FormReader) -> Question:
    measures = {name: read.maybe_quantity(name, kind) for name, kind in KINDS.items()}
    return Question(
        site=read.text("site", most=120),
        question=read.text("question", most=400),
        question_kind=read.choice("question_kind", tuple(kind for kind, _, _ in QUESTIONS)),
        promised_on=read.maybe_day("promised_on"),
        measures=Measures(**measures),
    )


def _criteria(form: SentForm) -> list[str]:
    return [name.removeprefix("criteria.") for name in form if name.startswith("criteria.")]


@router.get("/jobs/{job_id}/asked")
def show_asked(request: Request, caller: StaffCaller, job_id: UUID) -> HTMLResponse:
    """Show what was asked, as it stands and as it was before."""
    return page(
        request,
        "asked.html",
        caller=caller,
        job=jobs_in_hand.card(caller, job_id=job_id),
        asked=sheet.asked(caller, job_id=job_id),
        criteria=jobs.criteria_of(caller, job_id=job_id),
        questions=QUESTIONS,
    )


@router.post("/jobs/{job_id}/asked")
@form_of("/jobs/{job_id}/asked")
def correct_job(caller: StaffCaller, form: SentForm, job_id: UUID) -> RedirectResponse:
    """Correct what was asked."""
    with reading(form, caller.shop) as read:
        asked, because = _question(read), read.text("because")
    jobs.correct_job(caller, job_id=job_id, asked=asked, because=because)
    return see(f"/jobs/{job_id}/asked")


@router.post("/jobs/{job_id}/codes")
@form_of("/jobs/{job_id}/asked")
def choose_codes(caller: StaffCaller, form: SentForm, job_id: UUID) -> RedirectResponse:
    """Set which criteria the job answers to."""
    jobs.choose_criteria(caller, job_id=job_id, criteria=_criteria(form))
    return see(f"/jobs/{job_id}/asked")


@router.post("/jobs/{job_id}/close")
@form_of("/jobs/{job_id}")
def close(caller: StaffCaller, form: SentForm, job_id: UUID) -> RedirectResponse:
    """Close a job."""
    with reading(form, caller.shop) as read:
        because = read.text("because")
    jobs.close_job(caller, job_id=job_id, because=because)
    return see(f"/jobs/{job_id}")


@router.post("/jobs/{job_id}/open-again")
@form_of("/jobs/{job_id}")
def open_again(caller: StaffCaller, form: SentForm, job_id: UUID) -> RedirectResponse:
    """Open a closed job again."""
    with reading(form, caller.shop) as read:
        because = read.text("because")
    jobs.open_again(caller, job_id=job_id, because=because)
    return see(f"/jobs/{job_id}")


@router.get("/jobs/{job_id}/intake")
def show(request: Request, caller: StaffCaller, job_id: UUID) -> HTMLResponse:
    """Show the intake of a job."""
    return page(
        request,
        "intake.html",
        caller=caller,
        job=jobs_in_hand.card(caller, job_id=job_id),
        sheet=sheet.sheet(caller, job_id=job_id),
        questions={kind: words for kind, words, _ in QUESTIONS},
        stripped=STRIPPED,
        costs=COSTS,
    )


@router.post("/jobs/{job_id}/intake")
@form_of("/jobs/{job_id}/intake")
def take_in(caller: StaffCaller, form: SentForm, job_id: UUID) -> RedirectResponse:
    """Add a sack."""
    with reading(form, caller.shop) as read:
        sack, material_id = _sack(read), read.maybe_id("material_id")
        new_soil = read.maybe_text("new_soil", most=80)
        if not (read.raw("material_id") or new_soil):
            read.wrong("new_soil", "Choose what is in it, or name the new soil here.")
        price, bag_kg = _price(read) if new_soil else (None, None)
    done = sacks.take_in(
        caller,
        job_id=job_id,
        sack=sack,
        material_id=material_id,
        new_soil=new_soil,
        price=price,
        bag_kg=bag_kg,
    )
    return see(f"/sacks/{done.id}")


def _price(read: FormReader) -> tuple[TypedPrice | None, Typed | None]:
    """Return what a new soil costs, nothing where it was dug on site, and what a bag of it holds."""
    known = read.maybe_choice("cost", tuple(key for key, _ in COSTS))
    if known == "dug":
        return FREE, None
    if known != "bought":
        return None, None
    price = read.maybe_price("per_kg")
    if price is None and "per_kg" not in read.errors:
        read.errors.setdefault("per_kg", "Write the price, or choose that it is not known.")
    return price, read.maybe_quantity("bag_kg", "mass")


def _sack(read: FormReader) -> Sack:
    stripped = read.maybe_choice("topsoil_stripped", ("yes", "no"))
    return Sack(
        label=read.text("label", most=24),
        mass_kg=read.quantity("mass_kg", "mass"),
        received_at=read.maybe_moment("received_at"),
        pit=read.maybe_text("pit", most=80),
        dug_by=read.maybe_text("dug_by", most=80),
        dug_on=read.maybe_day("dug_on"),
        depth_m=read.maybe_quantity("depth_m", "height"),
        topsoil_stripped=None if stripped is None else stripped == "yes",
        colour=read.maybe_text("colour", most=80),
        smell=read.maybe_text("smell", most=80),
        roots=read.maybe_text("roots", most=80),
        remarks=read.maybe_text("remarks", most=1000),
        retained=read.maybe_text("retained", most=80),
        retained_until=read.maybe_day("retained_until"),
    )


@router.post("/sacks/{receipt_id}")
@form_of("/sacks/{receipt_id}")
def correct_sack(caller: StaffCaller, form: SentForm, receipt_id: UUID) -> RedirectResponse:
    """Correct what was written down of a sack."""
    with reading(form, caller.shop) as read:
        sack, because = _sack(read), read.text("because")
    sacks.correct_sack(caller, receipt_id=receipt_id, sack=sack, because=because)
    return see(f"/sacks/{receipt_id}")


@router.post("/sacks/{receipt_id}/preparation")
@form_of("/sacks/{receipt_id}")
def prepare(caller: StaffCaller, form: SentForm, receipt_id: UUID) -> RedirectResponse:
    """Keep what was done to a sack before testing."""
    with reading(form, caller.shop) as read:
        size, mass = read.maybe_quantity("oversize_mm", "length"), read.maybe_quantity("oversize_kg", "mass")
        became, because = read.maybe_text("oversize_became"), read.maybe_text("because")
    sacks.prepare(
        caller,
        receipt_id=receipt_id,
        oversize_mm=size,
        oversize_kg=mass,
        oversize_became=became,
        pulverised=read.tick("pulverised"),
        because=because,
    )
    return see(f"/sacks/{receipt_id}")
