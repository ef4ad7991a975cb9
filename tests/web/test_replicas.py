"""Several replicas on one PostgreSQL: no state lives in a process, so it does not matter which one answers."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import time
from pathlib import Path
from uuid import uuid4

import pytest
from starlette.testclient import TestClient

from service import mail_sending
from service.desk import backups, messages
from service.desk.signing_in import tablets
from service.desk.signing_in.lifetimes_and_tries import MOST_TRIES
from service.nightly import archive_nightly
from service.records.database import migrate
from service.web.authentication import sha256
from service.web.cookies import TABLET_COOKIE
from tests import mail_server, postgres
from tests.bench_rows import pressed_job
from tests.cast import Cast, enter, open_cast


@pytest.fixture
def cast(cast_on_either: Cast) -> Cast:
    """Return the cast on either database: several processes write."""
    return cast_on_either


@pytest.fixture
def replicas(filled_postgres: tuple[Cast, str], postgres_server: str, tmp_path: Path) -> Iterator[list[Cast]]:
    """Yield two applications with engines of their own on one database."""
    filled, template = filled_postgres
    with postgres.database(postgres_server, template=template) as url:
        both = [enter(url, tmp_path / name, filled) for name in ("one", "two")]
        yield both
        for replica in both:
            replica.stores.read.dispose()
            replica.stores.write.dispose()


def at_the_other(browser: TestClient, other: Cast) -> TestClient:
    """Return the same browser, as the proxy sends it to the other replica."""
    sent = TestClient(other.app, base_url="http://localhost")
    sent.cookies.update(browser.cookies)
    sent.headers["sec-fetch-site"] = "same-origin"
    return sent


def test_a_form_sent_to_both_replicas_at_once_is_done_once(replicas: list[Cast]) -> None:
    one = replicas[0].browser("tess").client
    clients = [one, at_the_other(one, replicas[1])] * 3
    form = {"request_key": uuid4().hex, "name": "Ann's Arches", "contact": "", "language": "en"}
    with ThreadPoolExecutor(6) as pool:
        answers = list(pool.map(lambda client: client.post("/customers", data=form, follow_redirects=False), clients))
    assert {answer.status_code for answer in answers} == {303}
    assert len({answer.headers["location"] for answer in answers}) == 1
    assert replicas[1].browser("tess").get("/customers").text.count("Ann&#39;s Arches") == 1
    assert backups.verify(replicas[0].olu).broken_at is None


@pytest.mark.parametrize("who", ["olu@shop.example", "nobody@shop.example"])
def test_tries_at_either_replica_are_counted_together(replicas: list[Cast], who: str) -> None:
    clients = [replica.browser(None) for replica in replicas]
    form = {"email": who, "password": "guess"}
    statuses = [clients[place % 2].post("/sign-in", form).status_code for place in range(MOST_TRIES["email"] + 1)]
    assert statuses == [422] * MOST_TRIES["email"] + [429]


def test_a_tablet_of_one_replica_is_one_of_the_other(replicas: list[Cast]) -> None:
    one, other = replicas
    tablets.enrol(one.olu, name="Press bench", token_sha256=sha256("enrol"))
    tablets.begin(one.olu, token_sha256=sha256("enrol"), device_sha256=sha256("tablet"))
    tablet = other.browser(None).client
    tablet.cookies.set(TABLET_COOKIE, "tablet")
    assert "Press bench" in tablet.get("/tablet").text


def test_what_is_recorded_at_one_replica_the_other_tells(replicas: list[Cast]) -> None:
    olu = replicas[1].browser("olu")
    position = olu.get("/live?since=0").json()["position"]
    assert olu.get(f"/live?since={position}").json()["changed"] is False
    tablets.enrol(replicas[0].olu, name="Second bench", token_sha256=sha256("second"))
    assert olu.get(f"/live?since={position}").json()["changed"] is True


def test_the_service_goes_on_after_its_database_server_was_stopped_and_started(tmp_path: Path) -> None:
    with postgres.own_server() as server, postgres.database(server.address) as url:
        migrate(url)
        cast = open_cast(url, tmp_path)
        client, form = cast.browser("tess").client, {"request_key": uuid4().hex, "name": "Ann's Arches"}
        form |= {"contact": "", "language": "en"}

        def answers() -> list[int]:
            asked = [client.get(path) for path in ("/health/ready", "/jobs")]
            return [
                answer.status_code for answer in [*asked, client.post("/customers", data=form, follow_redirects=False)]
            ]

        assert client.get("/jobs").status_code == 200
        server.stop()
        assert answers() == [503, 503, 503]
        assert "cannot be reached now" in client.get("/jobs").text
        server.start()
        assert answers() == answers() == [200, 200, 303]
        assert client.get("/customers").text.count("Ann&#39;s Arches") == 1
        cast.stores.read.dispose()
        cast.stores.write.dispose()


def test_one_of_two_replicas_makes_the_nightly_archive(replicas: list[Cast], tmp_path: Path) -> None:
    def night(replica: Cast) -> bool:
        return archive_nightly(replica.stores, folder=tmp_path / "archives", nightly_at=time(2, 30))

    with ThreadPoolExecutor(2) as pool:
        assert sorted(pool.map(night, replicas)) == [False, True]
    assert len(list((tmp_path / "archives").glob("*.zip"))) == 1


def test_two_replicas_that_send_at_once_send_each_mail_once(replicas: list[Cast]) -> None:
    one, two = (replica.with_mail() for replica in replicas)
    job_id = pressed_job(one)["job"]
    for number in range(6):
        messages.write(one.tess, job_id=job_id, text=f"Message {number}")
    with mail_server.serving() as post, ThreadPoolExecutor(2) as pool:
        settings = post.settings()
        sent = list(pool.map(lambda shop: mail_sending.send_due(shop.stores, settings), (one, two)))
        assert len(post.taken) == sum(sent) > 5
        assert len({taken["message-id"] for taken in post.taken}) == len(post.taken)
