"""Photos over HTTP: by form and by program, what is refused, how they are served, and who sees them where."""

from io import BytesIO
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

import pytest
from PIL import Image
from sqlmodel import Session, select

from service.desk import photos
from service.paper import photo_files
from service.records.audit_log import Trail
from service.records.materials import Receipt
from service.records.photos import Photo
from service.web.request_guard import MOST_REQUEST_BYTES
from tests import pixels
from tests.cast import Browser, Cast
from tests.pixels import from_a_camera, jpeg
from tests.trials import a_tried_job

HTMX = {"hx-request": "true"}


@pytest.fixture
def places(cast: Cast) -> dict[str, str]:
    """Return the address of a sack, a block and the job of Cy's."""
    tried = a_tried_job(cast)
    with Session(cast.stores.read) as session:
        sack_id = session.exec(select(Receipt.id).where(Receipt.job_id == tried.job_id)).all()[0]
    block_id = next(iter(tried.blocks.values()))
    return {"sack": f"/sacks/{sack_id}", "block": f"/blocks/{block_id}", "job": f"/jobs/{tried.job_id}"}


def send(browser: Browser, place: str, *files: Any, **more: Any) -> Any:
    """Send a form with files in the field of the picture, each a content or (name, content, type)."""
    named = [("photo", one if isinstance(one, tuple) else ("a.jpg", one, "image/jpeg")) for one in files]
    return browser.post(f"{place}/photos", {"form": "photo", **more.pop("data", {})}, files=named, **more)


def albums(places: dict[str, str]) -> dict[str, str]:
    """Return where the photos of each thing stand: a block's page fetches them."""
    return {**places, "block": f"{places['block']}/photos"}


def kept(cast: Cast) -> list[Photo]:
    with Session(cast.stores.read) as session:
        return list(session.exec(select(Photo)))


def trail(cast: Cast) -> int:
    with Session(cast.stores.read) as session:
        return len(session.exec(select(Trail)).all())


def stored(folder: Path) -> list[str]:
    return sorted(path.name for path in (folder / "files").rglob("*") if path.is_file())


def last_id(cast: Cast) -> UUID:
    return max(kept(cast), key=lambda one: one.created_at).id


@pytest.mark.parametrize("of", ["sack", "block", "job"])
def test_a_photograph_is_taken_and_stands_on_the_page(cast: Cast, places: dict[str, str], of: str) -> None:
    tess = cast.browser("tess")
    answer = send(tess, places[of], from_a_camera(6))
    assert (answer.status_code, answer.headers["location"]) == (303, f"{places[of]}#photos")
    photo_id = last_id(cast)
    page, album = tess.get(places[of]).text, tess.get(albums(places)[of]).text
    assert f'src="/photos/{photo_id}?small=yes"' in album and "Tess" in album
    assert 'type="file"' in page and 'capture="environment"' in page and 'enctype="multipart/form-data"' in page
    assert f"/photos/{photo_id}" in tess.get(f"{places['job']}/photos").text


def test_a_picture_is_served_as_what_it_is_and_kept_for_one_person_alone(cast: Cast, places: dict[str, str]) -> None:
    tess = cast.browser("tess")
    send(tess, places["block"], ("../../evil.html", from_a_camera(6), "text/html"))
    path = f"/photos/{last_id(cast)}"
    for small, side in (("", 80), ("?small=yes", 80)):
        answer = tess.get(path + small)
        headers = answer.headers
        assert (answer.status_code, headers["content-type"], headers["x-content-type-options"]) == (
            *(200, "image/jpeg", "nosniff"),
        )
        assert headers["content-disposition"] == f'inline; filename="photo-{last_id(cast).hex[:8]}.jpg"'
        assert headers["cache-control"] == "private, no-cache"
        assert "default-src 'none'" in headers["content-security-policy"]
        picture = Image.open(BytesIO(answer.content))
        assert (max(picture.size), bool(picture.getexif())) == (side, False)
        again = tess.get(path + small, headers={"if-none-match": headers["etag"]})
        assert (again.status_code, again.content) == (304, b"")


def test_what_a_browser_has_is_not_his_to_see_again_once_it_is_hidden(cast: Cast, places: dict[str, str]) -> None:
    send(cast.browser("tess"), places["job"], jpeg())
    photo_id, olu, cy = last_id(cast), cast.browser("olu"), cast.browser("cy")
    olu.post(f"/photos/{photo_id}/shown", {"shown": "yes", "then": places["job"]})
    tag = cy.get(f"/photos/{photo_id}").headers["etag"]
    olu.post(f"/photos/{photo_id}/shown", {"shown": "no", "then": places["job"]})
    assert cy.get(f"/photos/{photo_id}", headers={"if-none-match": tag}).status_code == 404


def test_the_same_form_sent_twice_is_one_photograph(cast: Cast, places: dict[str, str]) -> None:
    tess, key = cast.browser("tess"), {"request_key": uuid4().hex}
    answers = [send(tess, places["block"], jpeg(), data=key).status_code for _ in range(2)]
    assert answers == [303, 303] and len(kept(cast)) == 1
    assert send(tess, places["block"], from_a_camera(3), data=key, headers=HTMX).status_code == 409


def test_a_customer_sees_what_the_owner_shows_and_strangers_nothing(cast: Cast, places: dict[str, str]) -> None:
    send(cast.browser("tess"), places["block"], jpeg())
    photo_id = last_id(cast)
    olu, cy, dov = (cast.browser(name) for name in ("olu", "cy", "dov"))
    album = f"{places['job']}/photos"
    assert str(photo_id) not in cy.get("/soils").text + cy.get(album).text
    assert cy.get(f"/photos/{photo_id}").status_code == 404
    answer = olu.post(f"/photos/{photo_id}/shown", {"shown": "yes", "then": f"{places['block']}#photos"})
    assert answer.headers["location"] == f"{places['block']}#photos"
    assert "the customer sees it" in olu.get(f"{places['block']}/photos").text
    assert str(photo_id) in cy.get("/soils").text and str(photo_id) in cy.get(album).text
    assert cy.get(f"/photos/{photo_id}").status_code == 200
    for told in (cy.get("/soils").text, cy.get(album).text):
        assert "/remove" not in told and "/shown" not in told and 'type="file"' not in told
    assert dov.get(f"/photos/{photo_id}").status_code == dov.get(album).status_code == 404
    assert str(photo_id) not in dov.get("/soils").text
    nobody = cast.browser(None).get(f"/photos/{photo_id}", follow_redirects=False)
    assert nobody.headers["location"].startswith("/sign-in")


def test_who_may_do_what_with_a_photograph(cast: Cast, places: dict[str, str]) -> None:
    olu, tess, cy = (cast.browser(name) for name in ("olu", "tess", "cy"))
    assert send(cy, places["job"], jpeg()).status_code == 403
    send(olu, places["job"], jpeg())
    photo_id = last_id(cast)
    assert tess.post(f"/photos/{photo_id}/shown", {"shown": "yes"}).status_code == 403
    assert tess.post(f"/photos/{photo_id}/remove").status_code == 403
    page = tess.get(places["job"]).text
    assert f"/photos/{photo_id}/remove" not in page and f"/photos/{photo_id}/shown" not in page
    assert olu.post(f"/photos/{photo_id}/remove", {"then": "https://evil.example"}).headers["location"] == "/"
    assert f"/photos/{photo_id}" not in olu.get(places["job"]).text
    assert olu.get(f"/photos/{photo_id}").status_code == 404
    assert olu.post(f"/photos/{photo_id}/shown", {"shown": "yes"}).status_code == 404
    assert olu.post(f"/photos/{uuid4()}/remove").status_code == 404
    for place in ("sacks", "blocks", "jobs"):
        assert send(tess, f"/{place}/{uuid4()}", jpeg()).status_code == 404


FILES: dict[str, tuple[Any, ...]] = {
    **{name: ((f"{name}.jpg", content, "image/jpeg"),) for name, content in pixels.NO_PICTURES.items()},
    "nothing": (),
    "an empty file": (("", b"", "application/octet-stream"),),
    "two pictures": (jpeg(), jpeg()),
    "10 MB and a little": (jpeg() + b"\0" * (10 * 1024 * 1024),),
}


def test_what_is_no_picture_is_refused_at_the_field_and_nothing_is_left(
    cast: Cast, places: dict[str, str], tmp_path: Path
) -> None:
    tess = cast.browser("tess")
    before = trail(cast), stored(tmp_path)
    for name, files in FILES.items():
        told = send(tess, places["block"], *files, headers=HTMX)
        assert (told.status_code, list(told.json()["fields"])) == (422, ["photo"]), name
    for of, place in places.items():
        page = send(tess, place, pixels.PAGE)
        assert page.status_code == 422 and 'id="photo-photo-error"' in page.text, of
        assert "could not be read as a picture" in page.text, of
    assert tess.post(f"{places['block']}/photos", {"photo": "../../etc/passwd"}, headers=HTMX).status_code == 422
    assert (trail(cast), stored(tmp_path)) == before and kept(cast) == []


def test_more_than_a_form_may_bring_is_too_much(cast: Cast, places: dict[str, str]) -> None:
    answer = send(cast.browser("tess"), places["block"], jpeg() + b"\0" * MOST_REQUEST_BYTES)
    assert answer.status_code == 413


NAMES = (
    "../../x",
    "a\0.jpg",
    "x" * 255,
    "\u202egpj.exe",
    'a"; filename="b',
    "C:\\x.jpg",
    "a\r\nSet-Cookie: a=b",
    ".",
)


@pytest.mark.parametrize("name", NAMES, ids=[f"name {number}" for number in range(len(NAMES))])
def test_the_name_of_a_file_goes_nowhere(cast: Cast, tmp_path: Path, name: str) -> None:
    place = f"/jobs/{a_tried_job(cast).job_id}"
    tess = cast.browser("tess")
    before = {path for path in tmp_path.parent.rglob("*") if "files" not in path.parts}
    answer = send(tess, place, (name, jpeg(), "text/html"))
    assert answer.status_code == 303 and "set-cookie" not in answer.headers
    assert {path for path in tmp_path.parent.rglob("*") if "files" not in path.parts} == before
    assert [len(one) for one in stored(tmp_path)] == [64]
    photo = tess.get(f"/photos/{last_id(cast)}")
    assert photo.headers["content-disposition"] == f'inline; filename="photo-{last_id(cast).hex[:8]}.jpg"'


def test_a_name_longer_than_any_is_refused_whole(cast: Cast, tmp_path: Path) -> None:
    answer = send(cast.browser("tess"), f"/jobs/{a_tried_job(cast).job_id}", ("x" * 5_000, jpeg(), "image/jpeg"))
    assert (answer.status_code, kept(cast), stored(tmp_path)) == (400, [], [])


def test_the_page_of_a_block_fetches_its_photographs_alone(cast: Cast) -> None:
    place, tess = f"/blocks/{next(iter(a_tried_job(cast).blocks.values()))}", cast.browser("tess")
    assert f'hx-get="{place}/photos"' in tess.get(place).text
    send(tess, place, jpeg())
    part = tess.get(f"{place}/photos", headers={**HTMX, "hx-target": "album"}).text
    assert f"/photos/{last_id(cast)}?small=yes" in part and "<html" not in part and 'type="file"' not in part


@pytest.mark.parametrize("name", pixels.GOOD)
def test_every_kind_of_picture_comes_in_by_form(cast: Cast, name: str) -> None:
    place = f"/jobs/{a_tried_job(cast).job_id}"
    assert send(cast.browser("tess"), place, ("a", pixels.GOOD[name], "text/plain")).status_code == 303
    assert len(kept(cast)) == 1


def test_a_picture_that_the_store_lost_is_told_in_a_sentence(cast: Cast, tmp_path: Path) -> None:
    place, tess = f"/jobs/{a_tried_job(cast).job_id}", cast.browser("tess")
    send(tess, place, jpeg())
    (name,) = stored(tmp_path)
    (tmp_path / "files" / name[:2] / name).write_bytes(b"something else")
    damaged = tess.get(f"/photos/{last_id(cast)}?small=yes")
    (tmp_path / "files" / name[:2] / name).unlink()
    lost = tess.get(f"/photos/{last_id(cast)}")
    assert (damaged.status_code, lost.status_code) == (404, 404)
    assert "damaged in the store" in damaged.text and "not in the store" in lost.text
    assert tess.get(place).status_code == 200


def test_programs_send_the_picture_itself(cast: Cast, places: dict[str, str]) -> None:
    program, key = cast.program("olu"), {"idempotency-key": uuid4().hex, "content-type": "text/html"}
    for of, place in places.items():
        key["idempotency-key"] = uuid4().hex
        sent = [program.post(f"/api/v1{place}/photos", content=from_a_camera(3), headers=key) for _ in range(2)]
        assert [answer.status_code for answer in sent] == [201, 201] and sent[0].json() == sent[1].json()
        (listed,) = [one for one in _listed(program, place) if one["of"] == of]
        assert (listed["id"], listed["by"], listed["shown"]) == (sent[0].json()["id"], "Olu", False)
    assert len(kept(cast)) == 3 and len(_listed(program, places["job"])) == 3
    path = f"/api/v1/photos/{listed['id']}"
    answer = program.get(path, params={"small": True})
    assert answer.headers["content-type"] == "image/jpeg" and Image.open(BytesIO(answer.content)).size == (80, 60)
    fresh = {"idempotency-key": uuid4().hex}
    assert program.post(f"{path}/shown", json={"shown": True}, headers=fresh).json()["shown"] is True
    own = cast.program("cy").get(f"/api/v1{places['job']}/photos").json()["photos"]
    assert [one["id"] for one in own] == [listed["id"]]
    assert program.post(f"{path}/remove", headers={"idempotency-key": uuid4().hex}).status_code == 201
    assert program.get(path).status_code == 404


def _listed(program: Any, place: str) -> list[dict[str, Any]]:
    told = program.get(f"/api/v1{place}/photos").json()
    return list(told["photos"] if isinstance(told, dict) else told)


def test_programs_are_refused_what_is_no_picture(cast: Cast, places: dict[str, str]) -> None:
    program = cast.program("tess")
    for name, content in {**pixels.NO_PICTURES, "nothing": b""}.items():
        headers = {"idempotency-key": uuid4().hex, "content-type": "image/jpeg"}
        answer = program.post(f"/api/v1{places['block']}/photos", content=content, headers=headers)
        assert (answer.status_code, list(answer.json()["fields"])) == (422, ["photo"]), name
    headers = {"content-type": "image/jpeg"}
    without_key = program.post(f"/api/v1{places['block']}/photos", content=jpeg(), headers=headers)
    assert without_key.status_code == 422 and "request_key" in without_key.json()["fields"]
    too_much = program.post(
        f"/api/v1{places['block']}/photos", content=b"\0" * (MOST_REQUEST_BYTES + 1), headers=headers
    )
    assert too_much.status_code == 413 and kept(cast) == []


def test_pages_with_photographs_ask_no_more_often(cast: Cast, statements: list[str]) -> None:
    tried, olu, cy = a_tried_job(cast), cast.browser("olu"), cast.browser("cy")
    job, block = f"/jobs/{tried.job_id}", f"/blocks/{next(iter(tried.blocks.values()))}"

    def asked() -> dict[str, int]:
        found = {}
        for browser, path in (
            *((olu, job), (olu, block), (olu, f"{block}/photos"), (olu, f"{job}/photos")),
            *((cy, "/soils"), (cy, f"{job}/photos")),
        ):
            statements.clear()
            assert browser.get(path).status_code == 200
            found[f"{path} {browser is cy}"] = len(statements)
        return found

    before = asked()
    for number in range(5):
        content = pixels.written(pixels.quartered(80 + 8 * number, 60))
        photo_id = photo_files.take_in(cast.tess, of="job", thing_id=tried.job_id, content=content)
        photos.show(cast.olu, photo_id=photo_id, shown=True)
    assert asked() == before and max(before.values()) <= 12


def test_the_pages_of_a_job_hold_so_many_and_the_rest_follows(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    tried, tess = a_tried_job(cast), cast.browser("tess")
    monkeypatch.setattr(photos, "PAGE_SIZE", 2)
    for number in range(3):
        cast.clock.forward(minutes=1)
        content = pixels.written(pixels.quartered(80 + 8 * number, 60))
        photo_files.take_in(cast.tess, of="job", thing_id=tried.job_id, content=content)
    pages = [tess.get(f"/jobs/{tried.job_id}/photos?page={number}").text for number in (1, 2, 3)]
    assert [text.count("<img") for text in pages] == [2, 1, 0] and "Page 1 of 2" in pages[0]
