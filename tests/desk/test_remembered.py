"""By what the input of an act is remembered, and that no password can be found from it."""

import hashlib
import inspect
import re

from sqlmodel import Session, select

from service.desk.doorway import SECRETS, USE_CASES
from service.desk.signing_in import own_access
from service.records.base import canonical
from service.records.idempotency import Replay
from tests.cast import PASSWORD, Cast

NEW = "damp rope under straw"


def remembered(cast: Cast) -> set[str]:
    with Session(cast.stores.read) as session:
        return set(session.exec(select(Replay.input_sha256)))


def fast(given: dict[str, str]) -> str:
    """Return what somebody with the database alone would try, a thousand million times a second."""
    return hashlib.sha256(canonical(given).encode()).hexdigest()


def test_whoever_has_the_database_cannot_try_passwords_and_pins_fast(cast: Cast) -> None:
    here = hashlib.sha256(b"tess session").hexdigest()
    own_access.set_pin(cast.tess, password=PASSWORD, pin="804153")
    own_access.change_password(cast.tess, password=PASSWORD, new_password=NEW, token_sha256=here)
    tried = {
        fast({"password": PASSWORD, "pin": "804153"}),
        fast({"password": PASSWORD, "new_password": NEW, "token_sha256": here}),
    }
    assert tried.isdisjoint(remembered(cast))


def test_the_same_form_with_a_password_sent_twice_is_still_done_once(cast: Cast) -> None:
    tess = cast.tess
    before = len(remembered(cast))
    assert own_access.set_pin(tess, password=PASSWORD, pin="804153") == own_access.set_pin(
        tess, password=PASSWORD, pin="804153"
    )
    assert len(remembered(cast)) == before + 1


def test_every_secret_that_a_use_case_is_given_has_a_name_that_is_sealed() -> None:
    names = {name for use_case in USE_CASES.values() for name in inspect.signature(use_case).parameters}
    secret = {name for name in names if re.search(r"password|(^|_)(pin|code|secret|token)$", name)}
    assert secret == SECRETS
