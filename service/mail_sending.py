"""Sending mail: what the outbox holds goes out one by one, each claimed by one process, and its outcome is noted."""

import logging
import re
import smtplib
import ssl
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from email.message import EmailMessage
from email.policy import SMTP
from secrets import token_hex
from uuid import UUID

from service.desk import mail
from service.desk.doorway import Caller, Role, Stores, Via
from service.desk.mail import Outcome
from service.mail_server import MailServer
from service.paper import letters

log = logging.getLogger(__name__)

# What a server says, cut short: it stands on a page.
MOST_SAID = 200
NO_TEXT = 354


class NotReached(Exception):
    """The server could not be spoken to, or takes nothing of this shop now: the next mail would fare alike."""


def send_due(stores: Stores, server: MailServer | None) -> int:
    """Send what is due, as long as the server takes it, and return how many mails it took."""
    caller = Caller(stores=stores, via=Via.ROUND, request_id=token_hex(8), role=Role.OWNER)
    mail.give_up(caller)
    if server is None:
        return 0
    if not mail.day_is_told(caller):
        mail.tell_day(caller)
    sent = 0
    while (claimed := mail.claim(caller)).details["state"] != "none":
        if claimed.details["state"] == "unsure":
            log.warning("mail %s may have been sent before", claimed.id)
            continue
        try:
            sent += _send(caller, server, claimed.id) == "sent"
        except NotReached as fault:
            log.warning("mail does not go: %s", fault)
            mail.note(caller, mail_id=claimed.id, outcome="later", error=str(fault))
            break
    return sent


def _send(caller: Caller, server: MailServer, mail_id: UUID) -> Outcome:
    outcome, said = _tried(caller, server, mail_id)
    mail.note(caller, mail_id=mail_id, outcome=outcome, error=said)
    log.info("mail %s: %s", mail_id, outcome)
    return outcome


def _tried(caller: Caller, server: MailServer, mail_id: UUID) -> tuple[Outcome, str]:
    letter = mail.letter(caller, mail_id=mail_id)
    if letter is None:
        return "unwanted", ""
    try:
        message = letters.message(letter, sender=server.sender)
    except ValueError:
        return "never", "This e-mail address cannot be used."
    return deliver(server, message, handing=lambda: mail.hand_over(caller, mail_id=mail_id))


def deliver(server: MailServer, message: EmailMessage, *, handing: Callable[[], object]) -> tuple[Outcome, str]:
    """Hand one message over and return what became of it with what the server said.

    ``handing`` is called when the server asked for the text: from then until it answers nobody knows whether it has it.
    """
    with _connection(server) as smtp:
        to = message["to"].addresses[0].addr_spec
        _expect_ok(*smtp.mail(server.sender))
        code, said = smtp.rcpt(to)
        if code // 100 == 2:
            code, said = smtp.docmd("data")
        if code != NO_TEXT:
            return _declined(code, said)
        handing()
        try:
            smtp.send(_dotted(message.as_bytes(policy=SMTP)) + b".\r\n")
            code, said = smtp.getreply()
        except (OSError, smtplib.SMTPException):
            return "unsure", mail.UNSURE
        return ("sent", "") if code // 100 == 2 else _declined(code, said)


def fault_of(server: MailServer, *, to: str) -> str:
    """Send one test mail and return why it was not taken, or nothing."""
    message = EmailMessage()
    message["From"], message["To"], message["Subject"] = server.sender, to, "Loambook test mail"
    message.set_content("Loambook can send mail.\n")
    try:
        return deliver(server, message, handing=lambda: None)[1]
    except NotReached as fault:
        return str(fault)


def _dotted(text: bytes) -> bytes:
    """Return a message whose lines that begin with a point have a second one (RFC 5321, 4.5.2)."""
    return re.sub(rb"(?m)^\.", b"..", text)


def _declined(code: int, said: bytes) -> tuple[Outcome, str]:
    """Return whether a server declines for good (5xx) or for now (RFC 5321, 4.2.1)."""
    return "never" if code // 100 == 5 else "later", _told(code, said)


def _told(code: int, said: bytes) -> str:
    return f"{code} {said.decode('utf-8', 'replace')}"[:MOST_SAID]


def _expect_ok(code: int, said: bytes) -> None:
    if code // 100 != 2:
        raise NotReached(_told(code, said))


@contextmanager
def _connection(server: MailServer) -> Iterator[smtplib.SMTP]:
    """Give a connection that is encrypted and signed in as the settings ask."""
    try:
        smtp = _opened(server)
    except smtplib.SMTPResponseException as fault:
        said = fault.smtp_error
        raise NotReached(_told(fault.smtp_code, said if isinstance(said, bytes) else said.encode())) from fault
    except (OSError, smtplib.SMTPException) as fault:
        raise NotReached(f"{server.host}:{server.port}: {fault}"[:MOST_SAID]) from fault
    try:
        yield smtp
    except (OSError, smtplib.SMTPException) as fault:
        raise NotReached(f"{server.host}:{server.port}: {fault}"[:MOST_SAID]) from fault
    finally:
        with suppress(OSError, smtplib.SMTPException):
            smtp.quit()
        smtp.close()


def _opened(server: MailServer) -> smtplib.SMTP:
    trusted = ssl.create_default_context()
    smtp: smtplib.SMTP
    if server.tls == "tls":
        smtp = smtplib.SMTP_SSL(server.host, server.port, timeout=server.timeout_s, context=trusted)
    else:
        smtp = smtplib.SMTP(server.host, server.port, timeout=server.timeout_s)
    try:
        if server.tls == "starttls":
            smtp.starttls(context=trusted)
        smtp.ehlo_or_helo_if_needed()
        if server.user:
            smtp.login(server.user, server.password)
    except BaseException:
        smtp.close()
        raise
    return smtp
