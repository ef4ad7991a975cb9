"""Issuing a result: the draft is drawn and written outside any transaction, then frozen if it is still true."""

import hashlib
import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, time
from uuid import UUID

from markupsafe import Markup

from service.desk.doorway import Caller, Language, ShopFacts
from service.desk.results import issued, live
from service.desk.results.issued import Rendered
from service.desk.results.live import Draft
from service.paper import readings_table
from service.paper.beside import Beside, gather
from service.paper.evidence import evidence
from service.paper.explained import FORMULAS, ON_PAPER, charts
from service.paper.glance import glance
from service.paper.pdf import Enclosed, pdf
from service.paper.square_code import code_on_paper
from service.paper.storing import storing
from service.paper.templates import BEFORE_A_UNIT, environment
from service.typed import Typed
from service.words.numbers_to_text import thousands_parted

_TEXT = re.compile(r"(?<=>)[^<]+")


def issue(
    caller: Caller,
    *,
    job_id: UUID,
    remark: str,
    seen_sha256: str,
    language: Language | None = None,
    bucket_l: Typed | None = None,
    moistures: Mapping[UUID, Typed] | None = None,
    unchanged: bool = False,
) -> UUID:
    """Issue what the owner looked at and return it; the same form sent twice issues once."""
    before = issued.answered(caller, job_id=job_id)
    if before is not None:
        return before
    draft, beside = drafted(
        caller,
        job_id=job_id,
        remark=remark,
        seen_sha256=seen_sha256,
        language=language,
        bucket_l=bucket_l,
        moistures=moistures,
        unchanged=unchanged,
    )
    page = issued_page(draft, beside, caller.shop, address=caller.stores.address)
    told, printed = page.encode(), pdf(page, enclosed(draft, caller.shop))
    with storing(caller, told, printed) as (page_sha256, pdf_sha256):
        done = issued.issue(
            caller,
            issued_id=draft.id,
            job_id=job_id,
            number=draft.number,
            remark=remark,
            seen_sha256=seen_sha256,
            language=draft.language,
            beside=beside,
            unchanged=unchanged,
            page=Rendered(page_sha256, len(told)),
            pdf=Rendered(pdf_sha256, len(printed)),
        )
    return done.id


def drafted(
    caller: Caller,
    *,
    job_id: UUID,
    remark: str,
    seen_sha256: str | None,
    language: Language | None = None,
    bucket_l: Typed | None = None,
    moistures: Mapping[UUID, Typed] | None = None,
    unchanged: bool = False,
) -> tuple[Draft, Beside]:
    """Return what would be issued, in the customer's language unless another is asked for."""
    result = live.live(caller, job_id=job_id)
    beside = gather(caller, result.result, bucket_l=bucket_l, moistures=moistures)
    draft = live.draft(
        caller,
        job_id=job_id,
        remark=remark,
        seen_sha256=seen_sha256 or result.sha256,
        language=language,
        beside=beside,
        unchanged=unchanged,
    )
    return draft, beside


def issued_page(draft: Draft, beside: Beside, shop: ShopFacts, *, address: str) -> str:
    """Return the page of a draft, whole in itself: it is what the PDF is made from too."""
    spoken = replace(shop, language=draft.language)
    check_address = f"{address}/check/{draft.id}" if address else ""
    paper = environment(draft.language).get_template("issued.html")
    with thousands_parted(shop.comma_thousands):
        page = paper.render(
            draft=draft,
            beside=beside,
            result=draft.result,
            shop=spoken,
            view=glance(draft.result, shop.units_first),
            facts_of=evidence(draft.result, zone=shop.time_zone),
            charts=charts(draft.result, spoken, most=ON_PAPER),
            formulas=FORMULAS,
            data_sha256=hashlib.sha256(draft.data.encode()).hexdigest(),
            check_address=check_address,
            square=Markup(code_on_paper(check_address)) if check_address else "",
        )
    return unbroken(page)


def enclosed(draft: Draft, shop: ShopFacts) -> tuple[Enclosed, ...]:
    """Return what travels inside the PDF: the frozen data, and the readings as a table."""
    # The day of issue and no clock, so that drawing it again gives the same bytes.
    made_at = datetime.combine(draft.issued_on, time(), UTC)
    name = f"job-{draft.result.job.number}-result-{draft.number}"
    table = readings_table.as_table(draft.data, shop, language=draft.language)
    return (
        Enclosed(f"{name}.json", draft.data.encode(), "The frozen data of this result", made_at),
        Enclosed(f"{name}.csv", table.encode(), "Every reading, one row a block", made_at),
    )


def unbroken(page: str) -> str:
    """Return a page in which no line ends between a number and its unit; what tags hold is left alone."""
    return _TEXT.sub(lambda text: BEFORE_A_UNIT.sub("\N{NO-BREAK SPACE}", text[0]), page)
