"""Issuing a result: the draft is drawn and written outside any transaction, then frozen if it is still true."""

import hashlib
import re
from uuid import UUID

from service.desk.doorway import Caller, ShopFacts
from service.desk.results import issued, live
from service.desk.results.issued import Rendered
from service.desk.results.live import Draft
from service.paper.pdf import pdf
from service.paper.storing import storing
from service.paper.telling import FORMULAS, ON_PAPER, charts
from service.paper.templates import BEFORE_A_UNIT, environment

_TEXT = re.compile(r"(?<=>)[^<]+")


def issue(caller: Caller, *, job_id: UUID, remark: str, seen_sha256: str) -> UUID:
    """Issue what the owner looked at and return it; the same form sent twice issues once."""
    before = issued.answered(caller, job_id=job_id)
    if before is not None:
        return before
    draft = live.draft(caller, job_id=job_id, remark=remark, seen_sha256=seen_sha256)
    page = issued_page(draft, caller.shop)
    told, printed = page.encode(), pdf(page)
    with storing(caller, told, printed) as (page_sha256, pdf_sha256):
        done = issued.issue(
            caller,
            job_id=job_id,
            number=draft.number,
            remark=remark,
            seen_sha256=seen_sha256,
            page=Rendered(page_sha256, len(told)),
            pdf=Rendered(pdf_sha256, len(printed)),
        )
    return done.id


def issued_page(draft: Draft, shop: ShopFacts) -> str:
    """Return the page of a draft, whole in itself: it is what the PDF is made from too."""
    page = (
        environment(shop.language)
        .get_template("issued.html")
        .render(
            draft=draft,
            result=draft.result,
            shop=shop,
            charts=charts(draft.result, shop, most=ON_PAPER),
            formulas=FORMULAS,
            data_sha256=hashlib.sha256(draft.data.encode()).hexdigest(),
        )
    )
    return unbroken(page)


def unbroken(page: str) -> str:
    """Return a page in which no line ends between a number and its unit; what tags hold is left alone."""
    return _TEXT.sub(lambda text: BEFORE_A_UNIT.sub("\N{NO-BREAK SPACE}", text[0]), page)
