"""A clock that ran ahead for one night and was set right: what it dated in the future counts as absent."""

from datetime import time, timedelta
from pathlib import Path

import pytest
from sqlmodel import Session

from service.desk import backups
from service.desk.signing_in import lifetimes_and_tries, rate_limit
from service.errors import NotProven, TooMany
from service.nightly import archive_nightly
from service.paper import archiving
from service.records import ahead
from service.records.base import CLOCKS_DIFFER_BY
from tests.cast import PASSWORD, Cast

YEAR = {"days": 365.0}
NIGHTLY = time(2, 30)


def run_ahead(cast: Cast) -> None:
    cast.clock.forward(**YEAR)


def set_right(cast: Cast) -> None:
    cast.clock.now -= timedelta(**YEAR)


def test_tries_of_a_night_in_the_future_keep_nobody_out(cast: Cast) -> None:
    run_ahead(cast)
    thief = cast.browser(None)
    wrong = {"email": "tess@shop.example", "password": "not this one at all"}
    while thief.post("/sign-in", wrong).status_code != 429:
        pass
    set_right(cast)
    assert cast.browser(None).post("/sign-in", {**wrong, "password": PASSWORD}).status_code == 303


def test_a_clock_a_little_ahead_of_another_gives_no_tries_away(cast: Cast) -> None:
    ours, theirs = cast.clock.now, cast.clock.now + CLOCKS_DIFFER_BY
    for number in range(lifetimes_and_tries.MOST_TRIES["email"]):
        cast.clock.now = (ours, theirs)[number % 2]
        rate_limit.note_attempt(cast.nobody, door="sign-in", who="tess@shop.example", source="")
    cast.clock.now = ours
    with pytest.raises(TooMany):
        rate_limit.note_attempt(cast.nobody, door="sign-in", who="tess@shop.example", source="")


def test_what_took_long_in_the_future_is_not_held_against_anybody_now(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(lifetimes_and_tries.MOST_COSTLY, "paper", 1)
    run_ahead(cast)
    rate_limit.note_costly(cast.tess, kind="paper")
    set_right(cast)
    rate_limit.note_costly(cast.tess, kind="paper")
    with pytest.raises(TooMany):
        rate_limit.note_costly(cast.tess, kind="paper")


def test_a_code_that_was_spent_in_the_future_stays_spent(cast: Cast) -> None:
    from service.desk.signing_in import _factors

    run_ahead(cast)
    with Session(cast.stores.write) as session:
        _factors.spend_step(session, cast.tess, cast.ids["tess"], 77)
        session.commit()
    set_right(cast)
    with Session(cast.stores.write) as session, pytest.raises(NotProven):
        _factors.spend_step(session, cast.tess, cast.ids["tess"], 77)


def test_archives_are_made_night_after_night_again(cast: Cast, tmp_path: Path) -> None:
    run_ahead(cast)
    assert archive_nightly(cast.stores, folder=tmp_path / "archives", nightly_at=NIGHTLY)
    set_right(cast)
    for _ in range(8):
        assert archive_nightly(cast.stores, folder=tmp_path / "archives", nightly_at=NIGHTLY)
        assert backups.show(cast.olu).last_good_at == cast.clock.now
        cast.clock.forward(days=1)
    # Of the last seven days each has its archive; the one of the future took nobody's place.
    assert len(list((tmp_path / "archives").iterdir())) == archiving.DAYS + 1


def test_a_session_that_a_clock_opened_in_the_future_opens_nothing(cast: Cast) -> None:
    run_ahead(cast)
    early = cast.browser("tess")
    assert early.get("/jobs").status_code == 200
    set_right(cast)
    assert early.get("/jobs", follow_redirects=False).status_code == 303
    assert cast.browser("tess").get("/jobs").status_code == 200


def test_what_is_dated_in_the_future_is_reported(cast: Cast, tmp_path: Path) -> None:
    run_ahead(cast)
    archive_nightly(cast.stores, folder=tmp_path, nightly_at=NIGHTLY)
    cast.browser(None).post("/sign-in", {"email": "tess@shop.example", "password": "not this one"})
    set_right(cast)
    # Since then the trail went on, so that its newest entry says nothing of it any more.
    cast.browser("tess")
    with Session(cast.stores.read) as session:
        found = {one.table: one.rows for one in ahead.dated_ahead(session, at=cast.clock.now)}
    assert found.keys() == {"archive_run", "attempt", "trail", "turn"} and found["attempt"] == 2
    complaint = backups.complaints(cast.olu)
    assert "a clock ran ahead once" in complaint["clock"] and "2 in attempt" in complaint["clock"]
    assert "no good archive was ever made" in complaint["archive"]
