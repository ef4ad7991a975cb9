"""Bodies that are not what they say they are, on both databases: refused with a sentence, and nothing is left."""

from uuid import uuid4

from sqlmodel import Session, col, func, select

from service.records.audit_log import Trail
from service.records.customers import Customer
from tests.cast import Cast
from tests.hostile.conftest import HALF_A_FILE

FORM = b"name=Ada&request_key=a-key"
PARTS = b'--edge\r\nContent-Disposition: form-data; name="name"\r\n\r\nAda\r\n--edge--\r\n'
LIES: dict[str, tuple[str, bytes]] = {
    "a form that says it is JSON": ("application/json", FORM),
    "a form that says it is a picture": ("image/png", FORM),
    "a form that says nothing": ("", FORM),
    "a form that says it is in parts": ("multipart/form-data; boundary=edge", FORM),
    "a form that says it is of two kinds": ("application/json, application/x-www-form-urlencoded", FORM),
    "JSON that says it is a form": ("application/x-www-form-urlencoded", b'{"name": "Ada"}'),
    "a picture that says it is a form": ("application/x-www-form-urlencoded", b"\x89PNG\r\n\x1a\n" + b"\0" * 64),
    "parts that say they are a form": ("application/x-www-form-urlencoded", PARTS),
    "parts without an edge": ("multipart/form-data", PARTS),
    "parts with another edge": ("multipart/form-data; boundary=other", PARTS),
    "parts with an edge of nothing": ("multipart/form-data; boundary=", PARTS),
    "parts with an edge of 8,000 letters": ("multipart/form-data; boundary=" + "x" * 8_000, PARTS),
    "parts that end in the middle": ("multipart/form-data; boundary=edge", PARTS[:-12]),
    "a file that ends in the middle": (
        "multipart/form-data; boundary=edge",
        PARTS[:-12].replace(b"\r\n\r\n", b'; filename="a"\r\n\r\n'),
    ),
    "parts in parts": (
        "multipart/form-data; boundary=edge",
        PARTS.replace(b"\r\n\r\n", b"\r\nContent-Type: multipart/mixed\r\n\r\n"),
    ),
}


def left(cast: Cast) -> tuple[int, int]:
    with Session(cast.stores.read) as session:
        trail, customers = [session.exec(select(func.count()).select_from(one)).one() for one in (Trail, Customer)]
    return trail, customers


@HALF_A_FILE
def test_a_form_that_is_not_what_it_says_is_refused_or_read_as_what_it_says(cast: Cast) -> None:
    tess = cast.browser("tess").client
    before = left(cast)
    for name, (says, body) in LIES.items():
        answer = tess.post("/customers", content=body, headers={"content-type": says}, follow_redirects=False)
        assert answer.status_code in (400, 422), name
    assert left(cast) == before


CHARSETS = ("utf-16", "utf-7", "no-such", "\x80", "idna", "zip")


def test_a_form_is_read_as_utf_8_whatever_it_says(cast: Cast) -> None:
    tess = cast.browser("tess").client
    for number, charset in enumerate(CHARSETS):
        says = f"application/x-www-form-urlencoded; charset={charset}".encode("latin-1")
        body = f"name=Zo%C3%AB+{number}&request_key={uuid4().hex}".encode()
        answer = tess.post("/customers", content=body, headers={"content-type": says}, follow_redirects=False)
        assert answer.status_code == 303, charset
    with Session(cast.stores.read) as session:
        kept = session.exec(select(Customer.name).where(col(Customer.name).startswith("Zoë"))).all()
    assert sorted(kept) == [f"Zoë {number}" for number in range(len(CHARSETS))]


NO_KINDS_OF_JSON = (
    "", "text/plain", "application/x-www-form-urlencoded", "multipart/form-data", "image/png", "application/json\0",
    "application/jsonx", "json", "/", ";", "application/json, text/plain", "application/xml", "x" * 8_000,
)  # fmt: skip


def test_a_body_that_does_not_say_it_is_json_is_not_read_as_such(cast: Cast) -> None:
    program = cast.program("tess")
    before = left(cast)
    for says in NO_KINDS_OF_JSON:
        headers = {"idempotency-key": uuid4().hex, "content-type": says}
        answer = program.post("/api/v1/customers", content=b'{"name": "Ada"}', headers=headers)
        assert answer.status_code in (415, 422) and answer.json()["error"], says
    assert left(cast) == before
