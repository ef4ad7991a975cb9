"""Each row of docs/results_clauses.md on the page of the demo's own PDF where the row says it is."""

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pypdfium2
import pytest

from service.desk import jobs_in_hand
from service.desk.doorway import Caller
from service.desk.signing_in import sessions
from service.paper import issuing
from service.paper.pdf import pdf
from service.typed import Typed
from service.web.authentication import sha256
from tests.demo_pages import told

DOCS = Path(__file__).parents[2] / "docs" / "results_clauses.md"
# What each row is known by, by its page. A row that is argued has None: nothing on paper could show it.
ROWS: dict[str, dict[int, str] | None] = {
    "7.8.2.1 a": {1: "Result no. 2, soil from Sample hall, plot"},
    "7.8.2.1 b": {1: "Sample Soil Bench (demo) 1 Sample street, Sample town (invented)"},
    "7.8.2.1 c": None,
    "7.8.2.1 d": {page: f"{page} / 5" for page in range(1, 6)},
    "7.8.2.1 e": {1: "For Sample hall committee (invented), job 2."},
    "7.8.2.1 f": {3: "Compression of small pressed blocks; laid flat; faces bare; highest reading: held needle."},
    "7.8.2.1 g": {3: "2-A1-1 soaked 20 h, 28 days 150 × 100 × 75.4"},
    "7.8.2.1 h": {3: "Sack Soil Dug Received"},
    "7.8.2.1 i": {2: "Mixed", 3: "Blocks tested"},
    "7.8.2.1 j": {page: "Issued by Ottoline Sample" if page == 1 else "Result no. 2" for page in range(1, 6)},
    "7.8.2.1 k": {3: "Pit Depth Topsoil"},
    "7.8.2.1 l": {1: "Do not use soil from another pit or depth", 3: "The result holds only if the sacks"},
    "7.8.2.1 m": {2: "Lowest MPa", 3: "Stress MPa"},
    "7.8.2.1 n": {3: "Deviations"},
    "7.8.2.1 o": {3: "Issued and authorised by Ottoline Sample, owner of Sample Soil Bench (demo)"},
    "7.8.2.1 p": {3: "borrowed load cell"},
    "7.8.2.2": {1: "your machine presses at", 3: "the customer,"},
    "7.8.3.1 a": {2: "soaked 20 h, 28 days", 3: "Covered while curing"},
    "7.8.3.1 b": {1: "passes so far", 2: "Each limit, and what the blocks of each recipe come to"},
    "7.8.3.1 c": {2: "90 % interval MPa", 3: "standard uncertainty of every stress alike, coverage factor 1"},
    "7.8.3.1 d": {1: "Press 9 % before you order cement."},
    "7.8.5": {3: "Sacks and sampling"},
    "7.8.6.1": {2: "Decision rule: a recipe is recommended when"},
    "7.8.6.2": {2: "Blocks counted and asked for, outcome, chance of passing"},
    "7.8.7": {4: "What was assumed"},
    "7.8.8.1": {1: "Changed since no. 1"},
    "7.8.8.2, 3": {1: "Changed since no. 1"},
    "specimen identification": {3: "2-A1-1"},
    "diameter and height, or sides": {3: "Length × width × height mm"},
    "cross-section": {3: "Length × width are of the loaded face."},
    "maximum load": {3: "Gauge Force kN"},
    "conversion factor for height over diameter, if used": None,
    "compressive strength": {3: "Stress MPa"},
    "age": {3: "Age d"},
    "details of curing and conditioning": {2: "soaked 20 h, 28 days", 3: "In water h"},
    "rate of loading": {3: "mean from the first load to the highest reading; 19 of 19 blocks were timed"},
    "cement content and moisture": {2: "Shares of the dry soil, as planned and as weighed"},
    "deviations from the method": {1: "not a test report of an accredited laboratory", 3: "Deviations"},
}


@pytest.fixture(scope="module")
def pages(told_demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[list[str]]:
    """Yield the words of each page of the next result of the demo's main job."""
    with told(shutil.copytree(told_demo, tmp_path_factory.mktemp("clauses"), dirs_exist_ok=True)) as demo:
        known = sessions.recognise(demo.nobody, token_sha256=sha256(demo.sessions["owner"]), kind="session")
        assert known is not None
        yield _drawn(known.caller)


def _drawn(owner: Caller) -> list[str]:
    (job,) = [line for line in jobs_in_hand.jobs(owner).lines if line.number == 2]
    draft, beside = issuing.drafted(
        owner, job_id=job.id, remark="Press 9 % before you order cement.", seen_sha256=None, unchanged=True,
        bucket_l=Typed(10.0, "10", "L"),
    )  # fmt: skip
    written = pdf(issuing.issued_page(draft, beside, owner.shop, address="http://127.0.0.1"))
    with pypdfium2.PdfDocument(written) as paper:
        return [" ".join(one.get_textpage().get_text_range().split()) for one in paper]


def test_every_row_of_the_table_is_held_here():
    rows = re.findall(r"^\| ([^|]+) \|", DOCS.read_text("utf-8"), flags=re.MULTILINE)
    assert [row for row in rows if row not in ("clause", "asks for")] == list(ROWS)


@pytest.mark.parametrize("row", [row for row, words in ROWS.items() if words])
def test_a_row_is_on_its_pages(pages, row):
    words = ROWS[row] or {}
    assert [f"{page}: {said}" for page, said in words.items() if said not in pages[page - 1]] == []


def test_the_sheet_at_the_mixer_says_that_its_recipe_waits(pages):
    assert "Do not build with recipe C yet: its rule asks for more test blocks." in pages[4]
