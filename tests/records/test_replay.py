"""An answer is kept under its caller's key, once."""

import pytest
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session

from service.records import idempotency
from tests.records.test_trail import append


def keep(session: Session, *, caller_key: str = "person:1", request_key: str = "key") -> None:
    idempotency.keep(
        session,
        caller_key=caller_key,
        request_key=request_key,
        act="crushing.record",
        input_sha256="c" * 64,
        answer='{"id":1}',
        trail_position=append(session).position,
    )


def test_an_answer_is_found_by_its_caller_and_key(session: Session) -> None:
    keep(session)
    assert idempotency.find(session, "person:1", "key") == ("crushing.record", "c" * 64, '{"id":1}', 1)


def test_another_callers_same_key_is_another_answer(session: Session) -> None:
    keep(session)
    assert idempotency.find(session, "person:2", "key") is None
    keep(session, caller_key="person:2")


def test_a_key_is_used_once(session: Session) -> None:
    keep(session)
    with pytest.raises(IntegrityError):
        keep(session)
