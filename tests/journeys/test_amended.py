"""Each kind of amendment: issued, amended, withdrawn and shared, and every page of it opens for everybody it is for.

One shop is told and its first result issued once in English and MPa and once in Spanish and psi; each row amends a
copy of it, so that the next kind is one row. A paper is drawn once a row, when the next number is issued: the old one
with its notice is drawn by the first row alone.
"""

import json
import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from uuid import UUID, uuid4

import pytest
from sqlmodel import Session, select

from service.desk import codes, materials, people, presses
from service.desk.crushing import reading, sheet
from service.desk.crushing.given import Given
from service.desk.curing import acts as curing
from service.desk.doorway import Language, Units
from service.desk.intake import jobs
from service.desk.intake.jobs import Measures, Question
from service.records.jobs import Job
from service.records.materials import Material
from service.records.presses import Calibration
from service.records.results import IssuedResult
from service.typed import Typed, TypedPrice
from tests.cast import Browser, Cast, enter
from tests.trials import POINTS, Tried, a_tried_job

PEAKS: dict[str, dict[str, list[float | None]]] = {
    "A": {"as cured": [12.4, 13.1, 11.9, 12.8], "soaked": [6.75, 7.25, 6.5]},
    "B": {"as cured": [-28.0, 26.5, -28.0], "soaked": [15.0, 16.5, None]},
}


@dataclass
class Shop:
    """A shop whose one job is amended again and again, with a browser of each who reads it."""

    cast: Cast
    tried: Tried
    owner: Browser
    customer: Browser
    visitor: Browser
    program: Browser

    def issue(self, remark: str = "Use A.") -> IssuedResult:
        """Issue the next number over the form that the owner sees, and return it."""
        form = self.owner.get(f"/jobs/{self.tried.job_id}/issue")
        assert form.status_code == 200
        (seen,) = set(re.findall(r'name="seen_sha256" value="([0-9a-f]{64})"', form.text))
        sent = {"seen_sha256": seen, "remark": remark, "unchanged": "yes"}
        answer = self.owner.post(f"/jobs/{self.tried.job_id}/issue", sent)
        assert answer.status_code == 303, answer.text
        return self.newest()

    def newest(self) -> IssuedResult:
        """Return what was issued last."""
        with Session(self.cast.stores.read) as session:
            found = session.exec(select(IssuedResult).order_by(IssuedResult.number.desc())).first()  # type: ignore[attr-defined]
            assert found is not None
            return found

    def share(self, issued_id: UUID) -> str:
        """Return the path of a new link to a result."""
        last_day = (self.cast.clock.now + timedelta(days=10)).date().isoformat()
        path = f"/jobs/{self.tried.job_id}/issued/{issued_id}/shares"
        answer = self.owner.post(path, {"last_day": last_day, "name": "the builder", "form": uuid4().hex[:8]})
        assert answer.status_code == 200
        return str(re.findall(r"http://localhost(/shared/[\w-]+)", answer.text)[0])


def typed(value: float, unit: str) -> Typed:
    return Typed(value, f"{value:g}", unit)


def correct_a_reading(shop: Shop) -> None:
    given = Given("broke", "as cured", gauge_mpa=typed(12.9, "MPa"), failure="hourglass")
    crushing_id = shop.tried.crushings["1-A1"]
    reading.correct(shop.cast.tess, crushing_id=crushing_id, given=given, because="wrong ring of the dial")


def correct_a_soak(shop: Shop) -> None:
    (stay,) = sheet.sheet(shop.cast.tess, block_id=shop.tried.blocks["1-A5"]).soaks
    start = stay.started_at - timedelta(hours=1)
    curing.correct_soak(
        shop.cast.tess, soak_id=stay.id, started_at=start, ended_at=stay.ended_at, because="it went in earlier"
    )


def lose_a_block(shop: Shop) -> None:
    block_id, crushing_id = shop.tried.blocks["1-A2"], shop.tried.crushings["1-A2"]
    reading.withdraw(shop.cast.tess, crushing_id=crushing_id, because="typed for the wrong block")
    curing.lose(shop.cast.tess, block_id=block_id, because="dropped on the way to the press")


def find_a_block(shop: Shop) -> None:
    curing.find_again(shop.cast.tess, block_id=shop.tried.blocks["1-A4"], because="it stood on another shelf")
    old = sheet.sheet(shop.cast.tess, block_id=shop.tried.blocks["1-A4"]).earlier[0]
    spell = sheet.sheet(shop.cast.tess, block_id=shop.tried.blocks["1-A4"]).press_sessions[0]
    given = Given(
        "broke", "as cured", press_session_id=spell.id, gauge_mpa=typed(12.6, "MPa"), crushed_at=old.crushed_at
    )
    reading.record(shop.cast.tess, block_id=shop.tried.blocks["1-A4"], given=given)


def replace_the_calibration(shop: Shop) -> None:
    with Session(shop.cast.stores.read) as session:
        standing = [
            one
            for one in session.exec(select(Calibration))
            if presses.records.replacement_of(session, one.id) is None  # type: ignore[attr-defined]
        ]
    day = date(2027, 1, 12)
    presses.add_calibration(
        shop.cast.olu,
        gauge_id=shop.tried.gauge_id,
        done_on=day,
        valid_from=day,
        valid_until=date(2028, 1, 12),
        reference="Load cell, class 1",
        reference_uncertainty=None,
        points=[(typed(gauge, "MPa"), typed(1.02 * force, "kN")) for gauge, force in POINTS],
        replaces_id=standing[-1].id,
        replaced_because="The load cell was read in the wrong unit.",
    )


def correct_the_customers_block(shop: Shop) -> None:
    with Session(shop.cast.stores.read) as session:
        job = session.get_one(Job, shop.tried.job_id)
    sides = {"length": 300.0, "width": 200.0, "height": 100.0}
    measures = Measures(
        wall_thickness_mm=typed(254, "mm"),
        wall_height_m=typed(2.4, "m"),
        roof_line_load_kn_m=typed(3, "kN/m"),
        **{f"machine_{side}_mm": typed(mm, "mm") for side, mm in sides.items()},
    )
    asked = Question(job.site, job.question, job.question_kind, measures=measures)
    jobs.correct_job(shop.cast.tess, job_id=job.id, asked=asked, because="measured on the machine")


def set_a_price(shop: Shop) -> None:
    with Session(shop.cast.stores.read) as session:
        cement = session.exec(select(Material).where(Material.kind == "cement")).one()
    materials.set_price(
        shop.cast.olu,
        material_id=cement.id,
        valid_from=shop.cast.olu.clock.today,
        price=TypedPrice(Decimal("0.25"), "0.25", "kg"),
        carbon_kg_per_kg=0.86,
        carbon_low=None,
        carbon_high=None,
        source="invoice of March",
    )


def read_a_criterion(shop: Shop) -> None:
    codes.note_reading(shop.cast.olu, key="nmac-ceb", note="The edition of 2015, read whole.")


def nothing(shop: Shop) -> None:
    pass


@dataclass(frozen=True)
class Kind:
    """One kind of amendment: how it is made, what it is told as, and the remark where that is another."""

    name: str
    made: Callable[[Shop], None]
    told: str
    remark: str = ""


KINDS = (
    Kind(
        "a reading corrected",
        correct_a_reading,
        "{block}: {old} was corrected to {new}. Reason: {because}.",
    ),
    Kind("a soak corrected", correct_a_soak, "Readings that were corrected: {blocks}."),
    Kind("a block lost", lose_a_block, "{block} no longer counts. Reason: {because}."),
    Kind("a block found again", find_a_block, "Readings that count now and did not before: {blocks}."),
    Kind("the calibration replaced", replace_the_calibration, "The stresses use another calibration of the press."),
    Kind(
        "the customer's block",
        correct_the_customers_block,
        "What was asked, what is to be built, or the customer's own block was corrected.",
    ),
    Kind("a price", set_a_price, "Cost or carbon of {recipes} has changed."),
    Kind("a criterion read", read_a_criterion, "The owner has noted since that the text of a rule was read."),
    Kind("the remark only", nothing, "The remark was changed.", remark="Use A, and test five full-size blocks."),
    Kind("nothing", nothing, "Nothing that is shown has changed."),
)
# An exponent, or more digits than any gauge or scale of a shop can tell.
NOISE = re.compile(r"(?<![\w-])\d+(?:\.\d+)?[eE][-+]\d\d(?!\w)|\d\.\d{8,}")
# What is not read by people; a page is not parsed for it, for a parser took half of this test's time.
MARKUP = re.compile(r"<(style|script)\b.*?</\1>|<[^>]*>", re.DOTALL)
READERS: tuple[tuple[Language, Units], ...] = (("en", "metric"), ("es", "imperial"))


@dataclass(frozen=True)
class Begun:
    """A shop whose job was issued once and shared, to be copied for each row."""

    cast: Cast
    database: Path
    tried: Tried
    first: UUID
    link: str


@pytest.fixture(scope="module", params=READERS, ids=["English, MPa", "Spanish, psi"])
def begun(request: pytest.FixtureRequest, filled: tuple[Cast, Path], tmp_path_factory: pytest.TempPathFactory) -> Begun:
    """Return a shop whose job was issued once, shared, and read by everybody it is for."""
    language, units = request.param
    folder = tmp_path_factory.mktemp("begun")
    database = Path(shutil.copy(filled[1], folder / "shop.sqlite"))
    cast = enter(f"sqlite:///{database}", folder, filled[0])
    facts = replace(cast.olu.shop, language=language, units_first=units)
    people.change_shop(cast.olu, facts=facts, letterhead=None)
    cast._callers = {name: replace(known, shop=facts) for name, known in cast._callers.items()}
    tried = a_tried_job(cast, peaks=PEAKS)
    reading.withdraw(cast.tess, crushing_id=tried.crushings["1-A4"], because="typed for the wrong block")
    curing.lose(cast.tess, block_id=tried.blocks["1-A4"], because="not on its shelf")
    opened = at_work(cast, tried)
    first = opened.issue()
    link = opened.share(first.id)
    for_the_shop(opened, first)
    read(opened, first, link)
    leave(cast)
    return Begun(cast, database, tried, first.id, link)


@pytest.fixture
def shop(begun: Begun, tmp_path: Path) -> Iterator[Shop]:
    """Yield a copy of the shop; its papers lie where those of the first one do, for they are found by their digest."""
    copied = shutil.copy(begun.database, tmp_path / "shop.sqlite")
    cast = enter(f"sqlite:///{copied}", begun.database.parent, begun.cast)
    cast.clock.now = begun.cast.clock.now
    yield at_work(cast, begun.tried)
    leave(cast)


def at_work(cast: Cast, tried: Tried) -> Shop:
    browsers = [cast.browser(name) for name in ("olu", "cy", None)]
    return Shop(cast, tried, *browsers, program=Browser(cast.program("olu")))


def leave(cast: Cast) -> None:
    cast.stores.read.dispose()
    cast.stores.write.dispose()


def opens(browser: Browser, path: str, code: int = 200) -> str:
    """Open a page and return its text."""
    answer = browser.get(path)
    assert answer.status_code == code, f"{path}: {answer.status_code}"
    kind = answer.headers["content-type"]
    text: str = "" if "pdf" in kind else answer.text
    assert text or answer.content[:5] == b"%PDF-"
    if "html" in kind:
        said = MARKUP.sub(" ", text)
        assert "'english'" not in said and not NOISE.search(said), f"{path}: {NOISE.search(said)}"
    return text


def for_the_shop(shop: Shop, issued: IssuedResult) -> str:
    """Open everything that the owner and a program have of a job and of one result, and return the page of results."""
    job, own = f"/jobs/{shop.tried.job_id}", f"/results/{issued.id}"
    for path in (job, f"{job}/issued/{issued.id}", own, f"{own}?as_issued=yes"):
        opens(shop.owner, path)
    for ending in (".pdf", ".json", ".csv"):
        opens(shop.owner, own + ending)
    for path in (f"{job}/results", f"{own}.json"):
        opens(shop.program, f"/api/v1{path}" if path.startswith("/jobs") else path)
    return opens(shop.owner, f"{job}/results")


def read(shop: Shop, issued: IssuedResult, link: str) -> None:
    """Open everything that the customer and whoever holds a link have of a result that stands."""
    own = f"/results/{issued.id}"
    for path in ("/soils", own, f"{own}?as_issued=yes", f"{own}.pdf", f"{own}.json"):
        opens(shop.customer, path)
    for path in (link, f"{link}?as_issued=yes", f"{link}/pdf"):
        opens(shop.visitor, path)


@pytest.mark.parametrize("kind", KINDS, ids=[kind.name for kind in KINDS])
def test_what_was_issued_opens_for_everybody_after_each_kind_of_amendment(shop: Shop, begun: Begun, kind: Kind) -> None:
    before, old_link, own = shop.newest(), begun.link, f"/results/{begun.first}"
    shop.cast.clock.forward(minutes=5)
    kind.made(shop)
    page = opens(shop.owner, f"/jobs/{shop.tried.job_id}/results")
    told = "Nothing that is shown has changed since" if kind.made is nothing else "Changed since"
    assert f"{told} no. {before.number}" in page
    after = shop.issue(kind.remark or before.remark)
    assert after.number == before.number + 1
    changes = [one["english"] for one in json.loads(after.changes)]
    assert kind.told in changes and (len(changes) == 1 or kind.made is not nothing)

    link = shop.share(after.id)
    page = for_the_shop(shop, after)
    # What changed stands on the page of results, whole; the screens are English whatever the papers speak.
    assert max(re.split(r"\{\w+\}", kind.told), key=len).strip() in re.sub(r"\s+", " ", page).replace("&#39;", "'")
    read(shop, after, link)
    for browser, path in ((shop.owner, own), (shop.customer, own), (shop.visitor, old_link)):
        assert "notice" in opens(browser, path)
    if kind is KINDS[0]:
        opens(shop.owner, f"/jobs/{shop.tried.job_id}/next")
        opens(shop.customer, f"{own}.pdf")
        opens(shop.visitor, f"{old_link}/pdf")

    withdrawn = shop.owner.post(
        f"/jobs/{shop.tried.job_id}/issued/{before.id}/withdraw", {"because": "Another stands.", "form": "w-1"}
    )
    assert withdrawn.status_code == 303
    assert "Another stands." in opens(shop.owner, own)
    assert "Another stands." in opens(shop.owner, f"/jobs/{shop.tried.job_id}/results")
    if kind is KINDS[0]:
        opens(shop.owner, f"{own}.pdf")
    opens(shop.customer, own)
    opens(shop.customer, f"{own}.json", 404)
    opens(shop.visitor, old_link, 410)
    opens(shop.customer, f"/results/{after.id}")
    opens(shop.visitor, link)
