"""What is drawn: texts, numbers and shapes that honest people never send, and the requests that carry them."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote_plus

from bs4 import BeautifulSoup, Tag
from hypothesis import strategies as st

DIGITS = "7" * 400
TEXTS = (
    "", " ", "0", "-0", "-1", "1e308", "1e-320", "1e999", "-1e999", "1e400", "NaN", "nan", "Infinity", "-inf",
    DIGITS, f"0.{DIGITS}", "1e9", "999999999", "1000000", "9" * 19, "1,5", "1.5.5", "１２", "٣", "0x10", "1_000", "½",
    "10 kg 3", "9**9**9", "\0", "a\0b", "\u202eabc", "\u200f\u200e", "\u2066x\u2069", "\ufeff", "\r\nSet-Cookie: a=b",
    "\x1b[31m", "\x7f", "\ufffe", "<script>alert(1)</script>", "{{ 7*7 }}", "{% raw %}", "{a} %s %(x)s",
    "'; DROP TABLE job; --", "\\", "%", "%00", "../../etc/passwd", "=1+1", "@SUM(A1)", "on", "true", "null", "None",
    "🧱" * 40, "e\u0301" * 60, "ß" * 300, "x" * 5000, "\n" * 50, "0001-01-01", "9999-12-31", "2027-02-30",
    "2027-03-01T25:00", "9999-12-31T23:59", "0001-01-01T00:00", "2027-03-14T02:30",
    "00000000-0000-0000-0000-000000000000", "soil", "sand", "cement", "metric", "kg",
)  # fmt: skip
# Bytes that are no UTF-8, as a form may carry them: a lone surrogate, a wild byte, an overlong slash.
BYTES = (b"\xed\xa0\x80", b"\xff\xfe", b"\xc0\xaf", b"\xf4\x90\x80\x80")
FILE_NAMES = (
    b"a.jpg", b"", b"../../../etc/passwd", b"..\\..\\x.png", b"/dev/null", b"C:\\x.jpg", b"a\0.png",
    "\u202egpj.exe".encode(), b'a"; name="other', b"x" * 3_000, b"\xff.jpg", b"a.svg", b"CON",
)  # fmt: skip
FILE_TYPES = (
    b"image/jpeg", b"image/png", b"image/svg+xml", b"text/html", b"application/octet-stream", b"", b"image/png\0",
    b"multipart/mixed; boundary=b", b"text/plain; charset=no-such", b"application/x-www-form-urlencoded",
)  # fmt: skip
FILES = (
    b"", b"\xff\xd8\xff\xe0\0\x10JFIF", b"\x89PNG\r\n\x1a\n" + b"\0" * 64, b"GIF89a", b"PK\x03\x04" + b"\0" * 30,
    b"<html><script>alert(1)</script>", b'<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"/>', b"%PDF-1.7",
    b"\0" * 100_000, b"--edge--\r\n",
)  # fmt: skip
BOUNDARY = b"edge-of-a-drawn-part"
URLENCODED, MULTIPART = "application/x-www-form-urlencoded", f"multipart/form-data; boundary={BOUNDARY.decode()}"
NUMBERS: tuple[Any, ...] = (
    0, -0.0, 1, -1, 0.1, 1e-9, 5e-324, 1e6, 999_999.999, 1e9, 1e16, 1e308, -1e308, 2**31, 2**63, 2**64, 10**400,
    True, None, "1", [], {},
)  # fmt: skip

texts = st.one_of(st.sampled_from(TEXTS), st.text(max_size=30))
raw_texts = st.one_of(texts.map(lambda text: text.encode("utf-8")), st.sampled_from(BYTES))


def deep(levels: int) -> Any:
    """Return lists in lists."""
    found: Any = []
    for _ in range(levels):
        found = [found]
    return found


anything = st.one_of(
    st.sampled_from(NUMBERS), texts, st.floats(allow_nan=False), st.just({"a": {"b": [1]}}), st.just(deep(90))
)


@dataclass(frozen=True)
class Form:
    """A form of a page: where it stands, where it goes, its fields as they came, what each offers, its files."""

    page: str
    action: str
    fields: tuple[tuple[str, str], ...]
    offered: tuple[tuple[str, tuple[str, ...]], ...]
    files: tuple[str, ...] = ()


@dataclass(frozen=True)
class Body:
    """What is sent, and what it says it is."""

    content_type: str
    content: bytes


def forms_of(page: str, text: str) -> list[Form]:
    """Return the forms of a page that send something."""
    found = BeautifulSoup(text, "html.parser").find_all("form")
    return [_form(page, one) for one in found if str(one.get("method", "get")).lower() == "post"]


def _form(page: str, tag: Tag) -> Form:
    fields, offered, files = [], [], []
    for one in tag.find_all(["input", "select", "textarea"]):
        name, kind = str(one.get("name") or ""), one.get("type", "text")
        if not name or kind in ("submit", "button") or (kind == "radio" and not one.has_attr("checked")):
            continue
        if kind == "file":
            files.append(name)
            continue
        options = tuple(str(option.get("value", option.text)) for option in one.find_all("option"))
        chosen = [str(option.get("value", "")) for option in one.find_all("option") if option.has_attr("selected")]
        value = str(one.get("value", "")) if one.name == "input" else (chosen or list(options) or [one.text.strip()])[0]
        fields.append((name, value or _plausible(name, str(kind))))
        offered.append((name, options))
    return Form(page, str(tag.get("action") or page).partition("#")[0], tuple(fields), tuple(offered), tuple(files))


def _plausible(name: str, kind: str) -> str:
    by_kind = {"date": "2027-03-01", "datetime-local": "2027-03-01T10:00", "email": "ina@shop.example"}
    number = re.search(r"_(kg|mm|mpa|kn|g|h|hours|days|m|percent|share|ml|l)$|share|blows|count|mass", name)
    return by_kind.get(kind) or ("1.5" if number else "Some words")


@st.composite
def filled(draw: Callable[..., Any], form: Form) -> Body:
    """Return the body of a form of which some fields hold what nobody would type, stand twice or are missing."""
    pairs = [(name.encode(), value.encode()) for name, value in form.fields]
    offered = dict(form.offered)
    for place in draw(st.lists(st.integers(0, max(len(pairs) - 1, 0)), max_size=4)):
        if not pairs:
            break
        name = pairs[place][0]
        options = [one.encode() for one in offered.get(name.decode(), ())]
        pairs[place] = (name, draw(st.sampled_from(options) if options and draw(st.booleans()) else raw_texts))
    for place in draw(st.lists(st.integers(0, max(len(pairs) - 1, 0)), max_size=2)):
        how = draw(st.sampled_from(("twice", "missing", "renamed")))
        if how == "twice" and pairs:
            pairs.append((pairs[place % len(pairs)][0], draw(raw_texts)))
        elif how == "missing" and pairs:
            del pairs[place % len(pairs)]
        elif pairs:
            pairs[place % len(pairs)] = (draw(raw_texts), pairs[place % len(pairs)][1])
    if form.files or draw(st.integers(0, 5)) == 0:
        return Body(MULTIPART, draw(in_parts(pairs, form.files)))
    return Body(
        URLENCODED, b"&".join(quote_plus(name).encode() + b"=" + quote_plus(value).encode() for name, value in pairs)
    )


@st.composite
def in_parts(draw: Callable[..., Any], pairs: list[tuple[bytes, bytes]], files: tuple[str, ...]) -> bytes:
    """Return fields as parts, files among them: also where a word is asked for, and never what they say they are."""
    as_files = draw(st.lists(st.integers(0, max(len(pairs) - 1, 0)), max_size=1))
    heads = []
    for place, (name, value) in enumerate(pairs):
        heads.append(_part(name, draw(drawn_files) if place in as_files else value))
    heads += [_part(name.encode(), draw(drawn_files)) for name in files]
    ending = draw(st.sampled_from((b"--" + BOUNDARY + b"--\r\n",) * 5 + (b"", b"--" + BOUNDARY)))
    return b"".join(heads) + bytes(ending)


drawn_files = st.tuples(
    st.sampled_from(FILE_NAMES), st.sampled_from(FILE_TYPES), st.one_of(st.sampled_from(FILES), st.binary(max_size=200))
)


def _part(name: bytes, value: bytes | tuple[bytes, bytes, bytes]) -> bytes:
    head = b"--" + BOUNDARY + b'\r\nContent-Disposition: form-data; name="' + name + b'"'
    if isinstance(value, bytes):
        return head + b"\r\n\r\n" + value + b"\r\n"
    file_name, says, content = value
    return head + b'; filename="' + file_name + b'"\r\nContent-Type: ' + says + b"\r\n\r\n" + content + b"\r\n"
