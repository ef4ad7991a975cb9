"""What breaks other services, each by its name, on both databases: refused with a sentence, and nothing is left."""

import json
from itertools import product
from typing import Any
from uuid import UUID, uuid4

import pytest
from sqlmodel import Session, func, select

from service.desk import materials
from service.records.audit_log import Trail
from service.records.customers import Customer
from service.records.soil_tests import BulkTest
from service.web.request_guard import MOST_REQUEST_BYTES
from tests.cast import Cast
from tests.hostile.drawing import deep

NO_NUMBERS = {
    "400 digits": "7" * 400,
    "400 decimals": "0." + "7" * 400,
    "beyond a double": "1e999",
    "an exponent of 400 digits": "1e" + "9" * 400,
    "not a number": "NaN",
    "infinity": "-Infinity",
    "NUL": "1\0",
    "NUL alone": "\0",
    "right-to-left": "\u202e5.1",
    "wide digits": "１２",
    "Arabic digits": "١٢",
    "a power tower": "9**9**9",
    "hexadecimal": "0x1F",
    "a comma": "1,5",
    "smaller than an atom": "1e-300",
}
NO_WORDS = {
    "NUL": "a\0b",
    "NUL alone": "\0",
    "10 MB": "x" * (10 * 1024 * 1024),
    "5,000 letters": "x" * 5_000,
    "a bell": "a\x07b",
    "blank": " \t ",
}
STRANGE_WORDS = {
    "right-to-left override": "\u202eevil\u202c",
    "isolates": "\u2066soil\u2069",
    "a formula": "=1+1",
    "markup": "<script>alert(1)</script>",
    "a template": "{{ 7 * 7 }}",
    "SQL": "'; DROP TABLE customer; --",
    "a path": "../../etc/passwd",
    "joined signs": "e\u0301" * 20,
}
NO_JSON = {
    "NaN": b'{"filled_kg": NaN, "volume_l": 10, "damp": false}',
    "1e999": b'{"filled_kg": 1e999, "volume_l": 10, "damp": false}',
    "400 digits": b'{"filled_kg": ' + b"7" * 400 + b', "volume_l": 10, "damp": false}',
    "5,000 digits": b'{"filled_kg": ' + b"7" * 5_000 + b', "volume_l": 10, "damp": false}',
    "a number as text": b'{"filled_kg": "13.6", "volume_l": 10, "damp": false}',
    "dust": b'{"filled_kg": 5e-324, "volume_l": 10, "damp": false}',
    "a key twice": b'{"filled_kg": 1.6, "filled_kg": 13.6, "volume_l": 10, "damp": false}',
    "an unknown key": b'{"filled_kg": 13.6, "volume_l": 10, "damp": false, "__proto__": {}}',
    "NUL": b'{"filled_kg": 13.6, "volume_l": 10, "damp": false, "remark": "a\\u0000b"}',
    "half a character": b'{"filled_kg": 13.6, "volume_l": 10, "damp": false, "remark": "\\ud800"}',
    "half a character as key": b'{"filled_kg": 13.6, "volume_l": 10, "damp": false, "\\ud800": 1}',
    "no UTF-8": b'{"filled_kg": 13.6, "volume_l": 10, "damp": false, "remark": "\xff\xfe"}',
    "deep": b"[" * 100_000 + b"]" * 100_000,
    "deep in its place": json.dumps({"filled_kg": deep(500), "volume_l": 10, "damp": False}).encode(),
    "a list": b"[1, 2]",
    "nothing": b"",
    "half": b'{"filled_kg": 13.6',
    "10 MB": b'{"remark": "' + b"x" * (10 * 1024 * 1024) + b'"}',
}


@pytest.fixture
def soil(cast: Cast) -> UUID:
    """Return a soil of Cy's."""
    return materials.add_material(cast.olu, kind="soil", name="Red bank", customer_id=cast.customers["cy"]).id


def left(cast: Cast) -> tuple[int, int, int]:
    with Session(cast.stores.read) as session:
        found = [session.exec(select(func.count()).select_from(table)).one() for table in (Trail, Customer, BulkTest)]
    return found[0], found[1], found[2]


def test_a_number_that_is_none_is_refused_at_its_field(cast: Cast, soil: UUID) -> None:
    tess = cast.browser("tess")
    before = left(cast)
    for name, text in NO_NUMBERS.items():
        typed = {"form": "bulk", "state": "dry", "filled_kg": text, "volume_l": "10"}
        page = tess.post(f"/soils/{soil}/bulk", typed)
        assert page.status_code == 422 and 'filled_kg-error"' in page.text, name
        told = tess.post(f"/soils/{soil}/bulk", typed, headers={"hx-request": "true"})
        assert told.status_code == 422 and "filled_kg" in told.json()["fields"], name
    assert left(cast) == before


def test_words_that_cannot_be_kept_are_refused(cast: Cast) -> None:
    tess, program = cast.browser("tess"), cast.program("tess")
    before = left(cast)
    for name, text in NO_WORDS.items():
        assert tess.post("/customers", {"name": text}).status_code in (413, 422), name
        sent = program.post("/api/v1/customers", json={"name": text}, headers={"idempotency-key": uuid4().hex})
        assert sent.status_code in (413, 422), name
    assert left(cast) == before


def test_strange_words_are_kept_to_the_letter_or_refused_and_never_run(cast: Cast) -> None:
    tess = cast.browser("tess")
    for name, text in STRANGE_WORDS.items():
        answer = tess.post("/customers", {"name": text})
        assert answer.status_code in (303, 422), name
        page = tess.get("/customers").text
        assert "<script>alert" not in page and ">49<" not in page, name
        with Session(cast.stores.read) as session:
            kept = session.exec(select(Customer.name).where(Customer.name == text)).all()
        assert kept == ([text] if answer.status_code == 303 else []), name


def test_a_key_that_cannot_be_kept_is_refused(cast: Cast) -> None:
    tess, olu = cast.browser("tess"), cast.browser("olu")
    before = left(cast)
    for key in ("", " ", "a b", "\0", "x" * 65, "ключ", "\u202e", "a\tb"):
        assert tess.post("/customers", {"name": "Ada", "request_key": key}).status_code == 422, key
        assert olu.post("/backups/archives", {"request_key": key}).status_code == 422, key
    assert left(cast) == before


def test_a_body_that_is_no_reading_is_refused(cast: Cast, soil: UUID) -> None:
    program = cast.program("tess")
    before = left(cast)
    for name, body in NO_JSON.items():
        headers = {"idempotency-key": uuid4().hex, "content-type": "application/json"}
        answer = program.post(f"/api/v1/soils/{soil}/bulk", content=body, headers=headers)
        assert answer.status_code in (400, 422) and answer.json()["error"], name
        worked = program.post("/api/v1/work/moisture", content=body, headers=headers)
        assert worked.status_code in (413, 422) and worked.json()["error"], name
    assert left(cast) == before


def test_a_field_that_stands_twice_counts_once(cast: Cast, soil: UUID) -> None:
    tess = cast.browser("tess").client
    body = f"request_key={uuid4().hex}&form=bulk&state=dry&filled_kg=1.6&filled_kg=13.6&filled_kg_unit=kg&volume_l=10 L"
    headers = {"content-type": "application/x-www-form-urlencoded"}
    answer = tess.post(f"/soils/{soil}/bulk", content=body, headers=headers, follow_redirects=False)
    assert answer.status_code == 303
    with Session(cast.stores.read) as session:
        (kept,) = session.exec(select(BulkTest)).all()
    assert (kept.filled_kg, kept.as_read["filled_kg"]["text"]) == (13.6, "13.6")


def test_a_field_of_no_form_changes_nothing(cast: Cast) -> None:
    tess = cast.browser("tess")
    for key in ("filled_kg\0", "__class__", "filled_kg.", "\u202e", "x" * 10_000, "cans.99999999999.wet_kg"):
        assert tess.post("/customers", {"name": "Ada", key: "1"}).status_code == 303, key


FILES: dict[str, tuple[str, Any, str]] = {
    "a file for a word": ("name.txt", b"Ada", "text/plain"),
    "a path for a name": ("../../../etc/passwd", b"x", "text/plain"),
    "a picture of no kind": ("a.png", b"\x89PNG\r\n\x1a\n" + b"\0" * 64, "image/png"),
    "a page that says it is a picture": ("a.jpg", b"<html><script>alert(1)</script>", "image/jpeg"),
    "10 MB": ("big.bin", b"\0" * (10 * 1024 * 1024), "application/octet-stream"),
}


def test_a_file_where_no_form_asks_for_one_is_not_kept(cast: Cast) -> None:
    tess = cast.browser("tess").client
    before = left(cast)
    for name, file in FILES.items():
        answer = tess.post(
            "/customers", data={"request_key": uuid4().hex}, files={"name": file}, follow_redirects=False
        )
        assert answer.status_code == 422 and 'name-error"' in answer.text, name
    assert left(cast) == before


def test_a_name_that_leaves_the_folder_of_archives_is_not_found(cast_on_sqlite: Cast) -> None:
    olu, folder = cast_on_sqlite.browser("olu"), "http://localhost/backups/archives/"
    for name in ("../shop.sqlite", "..%2fshop.sqlite", "%00", "a\0.zip", "....//", "C:\\x", "x" * 5_000, "\u202e.zip"):
        answer = olu.post(f"/backups/archives/{name}".replace("\0", "%00"))
        assert answer.status_code in (307, 404, 405, 422), name
        assert answer.headers.get("location", folder).startswith(folder), name


PATHS = (
    "/jobs/{}",
    "/blocks/{}",
    "/results/{}.pdf",
    "/shared/{}",
    "/sign-in/{}",
    "/api/v1/jobs/{}",
    "/search?q={}",
    "/jobs?page={}",
)
WORDS = (
    "%00",
    "%E2%80%AE",
    "%ED%A0%80",
    "%FF",
    "9" * 400,
    "1e999",
    "..%2f..%2f",
    "%",
    "x" * 4_000,
    "%0d%0aSet-Cookie:a=b",
    "-1",
)


def test_an_address_of_nothing_is_answered(cast: Cast) -> None:
    olu = cast.browser("olu")
    for path, word in product(PATHS, WORDS):
        answer = olu.get(path.format(word), follow_redirects=False)
        assert answer.status_code in (200, 303, 404, 422), path.format(word)
        assert "set-cookie" not in answer.headers, path.format(word)


@pytest.mark.parametrize("whole", [b"x" * (MOST_REQUEST_BYTES + 1), b"name=" + b"x" * (MOST_REQUEST_BYTES + 1)])
def test_a_body_that_does_not_say_how_long_it_is_ends_at_the_limit(cast: Cast, whole: bytes) -> None:
    parts = (whole[at : at + 65_536] for at in range(0, len(whole), 65_536))
    headers = {"content-type": "application/x-www-form-urlencoded"}
    answer = cast.browser("tess").client.post("/customers", content=parts, headers=headers)
    assert answer.status_code == 413
    assert left(cast)[1] == 2
