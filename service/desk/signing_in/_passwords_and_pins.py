"""What a password and a PIN must be, and the slow hash that is kept of them."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from functools import cache
from itertools import pairwise
from threading import BoundedSemaphore

from pwdlib import PasswordHash
from pwdlib.hashers.argon2 import Argon2Hasher

from service.desk.signing_in._words import is_mostly
from service.errors import Invalid, TooMany

LEAST_PASSWORD, MOST_PASSWORD = 12, 128
PIN_DIGITS = 6
# Fewer are within reach of somebody who stole the slow hashes, by the package's own reckoning.
FEWEST_GUESSES, HEAD = 10**8, 40
_hashes = PasswordHash((Argon2Hasher(),))
# Each hash takes 64 MiB and a tenth of a second of a core; whoever waits for one holds a thread and a connection.
AT_ONCE, IN_ALL = 2, 6
_at_work, _let_in = BoundedSemaphore(AT_ONCE), BoundedSemaphore(IN_ALL)


@cache
def _nobodys_hash() -> str:
    """Return what unknown people are checked against, so that they take as long as known ones."""
    return _hashes.hash("nobody signs in with this")


def holds(secret: str, kept: str | None) -> bool:
    """Return whether a secret is the one that was hashed; without a hash it takes as long and does not hold."""
    with _turn():
        # Made for known people too, so that the first unknown one takes no longer.
        nobodys = _nobodys_hash()
        fits = _hashes.verify(secret[:MOST_PASSWORD], kept or nobodys)
    return fits and kept is not None and len(secret) <= MOST_PASSWORD


@contextmanager
def _turn() -> Iterator[None]:
    if not _let_in.acquire(blocking=False):
        raise TooMany("Many people are signing in right now. Try again in a few seconds.")
    try:
        with _at_work:
            yield
    finally:
        _let_in.release()


def hashed(password: str, *, about: Iterable[str]) -> str:
    """Return what is kept of a new password, or say why it cannot be one; ``about`` is known of its person."""
    if not LEAST_PASSWORD <= len(password) <= MOST_PASSWORD:
        sentence = f"Between {LEAST_PASSWORD} and {MOST_PASSWORD} characters."
        raise Invalid("This password cannot be used.", {"new_password": sentence})
    if is_mostly(password, about):
        sentence = "Others would try this first: words of this trade, the shop or your name. Choose other words."
        raise Invalid("This password cannot be used.", {"new_password": sentence})
    if _is_guessed(password):
        sentence = "Many people use one like this. Use three or four words that do not belong together."
        raise Invalid("This password cannot be used.", {"new_password": sentence})
    with _turn():
        return _hashes.hash(password)


def _is_guessed(password: str) -> bool:
    # Common ones of this length are short ones twice, with a tail, or with digits for letters: they are guessed, not
    # listed. The head is enough, for whatever hangs on behind it only adds.
    from zxcvbn import zxcvbn

    return bool(zxcvbn(password[:HEAD])["guesses"] < FEWEST_GUESSES)


@cache
def _common() -> frozenset[str]:
    from zxcvbn.frequency_lists import FREQUENCY_LISTS

    return frozenset(FREQUENCY_LISTS["passwords"])


def hashed_pin(pin: str) -> str:
    """Return what is kept of a new PIN, or say why it cannot be one."""
    if len(pin) != PIN_DIGITS or not (pin.isascii() and pin.isdecimal()):
        raise Invalid("This PIN cannot be used.", {"pin": f"{PIN_DIGITS} digits."})
    if _is_easy(pin):
        raise Invalid("This PIN cannot be used.", {"pin": "Others would try this PIN first. Choose another."})
    with _turn():
        return _hashes.hash(pin)


def _is_easy(pin: str) -> bool:
    steps = {(int(after) - int(before)) % 10 for before, after in pairwise(pin)}
    repeats = any(pin == pin[:size] * (PIN_DIGITS // size) for size in (1, 2, 3))
    return len(steps) == 1 or repeats or pin in _common()
