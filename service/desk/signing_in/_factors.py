"""The second factor: the secret an app holds, the code it shows now, and codes that are spent."""

import base64
import hashlib
import hmac
from datetime import datetime
from uuid import UUID

import pyotp
from sqlmodel import Session

from service.desk.doorway import Caller
from service.errors import NotProven
from service.records import people as persons
from service.records import rate_limit

STEP_S = 30
# A code is taken so long after its half minute: people type slowly, and clocks differ. RFC 6238, 5.2, allows a step.
LATE_S = 10
# 160 bits, as RFC 4226 recommends for the secret of an app.
SECRET_BYTES = 20


def digest(text: str) -> str:
    """Return what is kept of a short secret."""
    return hashlib.sha256(text.encode()).hexdigest()


def draw() -> str:
    """Return a fresh half of a secret: the only half that the database keeps."""
    return pyotp.random_base32()


def is_drawn(text: str) -> bool:
    """Return whether a text can be such a half."""
    return len(text) == len(draw()) and text.isascii() and text.isalnum()


def secret_of(caller: Caller, person_id: UUID, drawn: str) -> str:
    """Return the secret in a person's app, which follows from the drawn half and the installation's own secret."""
    words = f"second factor {person_id} {drawn}".encode()
    return base64.b32encode(hmac.digest(caller.stores.key, words, "sha256")[:SECRET_BYTES]).decode()


def scanned(secret: str, *, name: str, issuer: str) -> str:
    """Return the text that an app scans."""
    return pyotp.TOTP(secret).provisioning_uri(name=name, issuer_name=issuer)


def step_of(secret: str, code: str, now: datetime) -> int | None:
    """Return to which half minute a code belongs, or None when it fits none of late."""
    present, codes = int(now.timestamp()), pyotp.TOTP(secret)
    steps = dict.fromkeys((present // STEP_S, (present - LATE_S) // STEP_S))
    return next((step for step in steps if pyotp.utils.strings_equal(codes.at(step * STEP_S), code)), None)


def spend_step(session: Session, caller: Caller, person_id: UUID, step: int) -> None:
    """Take a code and the one before it out of use; whoever spends one waits for whoever is spending."""
    persons.locked(session, person_id)
    now = caller.stores.clock()
    spent, before = (digest(f"step {person_id} {one}") for one in (step, step - 1))
    if rate_limit.was_tried(session, bucket=spent):
        raise NotProven("This code was used already.", {"code": "Wait for the next code and enter it."})
    session.add_all(rate_limit.Attempt(bucket=bucket, at=now) for bucket in (spent, before))
