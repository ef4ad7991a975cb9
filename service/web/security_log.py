"""Named events for whoever watches the doors: what was refused at them, to whom and where, and never with what."""

import logging

from starlette.types import Scope

from service.errors import Forbidden, NotFound, NotProven, PasswordNeeded, Refusal, SignedOut, TooMany, Unavailable
from service.web.request_log import path_told

log = logging.getLogger(__name__)

# In order: the first kind that fits names the event. What is not here is no matter of the doors.
OF_REFUSALS: tuple[tuple[type[Refusal], str], ...] = (
    (PasswordNeeded, "password.asked"),
    (Forbidden, "right.refused"),
    (NotFound, "object.refused"),
    (TooMany, "tries.refused"),
    (SignedOut, "secret.refused"),
    (Unavailable, "records.unavailable"),
)
OTHER_SITE = "site.refused"
TOO_MUCH = "size.refused"
BROKEN = "request.broken"
SECRETS = ("confirm_password", "password", "code", "pin")
NAMES = {name for _, name in OF_REFUSALS} | {f"{name}.refused" for name in SECRETS[1:]} | {OTHER_SITE, TOO_MUCH, BROKEN}


def tell_of(scope: Scope, refusal: Refusal, *, secret_came: bool) -> None:
    """Tell of a refusal, if it is one of the doors; that somebody without any secret is sent to sign in is none."""
    if isinstance(refusal, SignedOut) and not secret_came:
        return
    event = _secret_refused(refusal) or next((name for kind, name in OF_REFUSALS if isinstance(refusal, kind)), None)
    if event is not None:
        tell(scope, event)


def _secret_refused(refusal: Refusal) -> str | None:
    if not isinstance(refusal, NotProven | PasswordNeeded):
        return None
    name = next((name for name in SECRETS if name in refusal.fields), None)
    return f"{name.removeprefix('confirm_')}.refused" if name else None


def tell(scope: Scope, event: str) -> None:
    """Write an event down."""
    state = scope.get("state", {})
    caller = state.get("caller")
    facts = {
        "event": event,
        "request_id": state.get("request_id"),
        "method": scope["method"],
        "path": path_told(scope),
        "person": caller.person_id if caller else None,
        # Whoever is not signed in may still stand at a tablet of the shop.
        "device": (caller.device_id if caller else None) or state.get("device_id"),
    }
    log.warning("event %s", event, extra={"facts": facts})
