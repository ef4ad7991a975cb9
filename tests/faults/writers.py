"""Four programs that write readings and send each again, with the same key, until it is acknowledged."""

import time
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import count, cycle
from threading import Event, Lock, Thread
from uuid import UUID, uuid4

import httpx
from sqlmodel import Session, col, select

from service.desk import materials
from service.records import audit_log
from service.records.audit_log import Trail
from service.records.database import check_quickly, open_engines
from service.records.soil_tests import SoilTest
from tests.cast import Cast

PATIENCE_SECONDS = 120
TOKENS = ("kim's program", "lee's program", "max's program", "noa's program")


def prepare(cast: Cast) -> UUID:
    """Give each of the four a token, now, and return a soil for their readings."""
    cast.clock.now = datetime.now(UTC)
    for token in TOKENS:
        cast.add_token("tess", token)
    return materials.add_material(cast.olu, kind="soil", name="Red bank", customer_id=cast.customers["cy"]).id


@dataclass
class Writers:
    """What the four have sent and what was acknowledged."""

    addresses: Sequence[str]
    soil: UUID
    # What was acknowledged as stored: the remark that marks a reading, and the id it got.
    acknowledged: dict[str, str] = field(default_factory=dict)
    # Every answer by its status, and every connection that broke as 0.
    answers: Counter[int] = field(default_factory=Counter)
    refusals: list[str] = field(default_factory=list)
    _stopped: Event = field(default_factory=Event)
    _lock: Lock = field(default_factory=Lock)

    def _write_on(self, token: str) -> None:
        with httpx.Client(headers={"authorization": f"Bearer {token}"}, timeout=60) as client:
            addresses = cycle(self.addresses)
            at = next(addresses)
            for number in count():
                if self._stopped.is_set():
                    return
                mark, key, ends_at = f"{token} {number}", uuid4().hex, time.monotonic() + PATIENCE_SECONDS
                while not self._send(client, at, mark, key) and time.monotonic() < ends_at:
                    at = next(addresses)
                    time.sleep(0.03)

    def _send(self, client: httpx.Client, at: str, mark: str, key: str) -> bool:
        body = {"filled_kg": 13.6, "volume_l": 10.0, "damp": False, "remark": mark}
        try:
            answer = client.post(f"{at}/api/v1/soils/{self.soil}/bulk", json=body, headers={"idempotency-key": key})
        except httpx.TransportError:
            with self._lock:
                self.answers[0] += 1
            return False
        with self._lock:
            self.answers[answer.status_code] += 1
            if answer.status_code == 201:
                self.acknowledged[mark] = answer.json()["id"]
            else:
                self.refusals.append(answer.json()["error"])
        return answer.status_code == 201

    def wait_for(self, more: int) -> None:
        """Return once so many more readings were acknowledged."""
        wanted, ends_at = len(self.acknowledged) + more, time.monotonic() + PATIENCE_SECONDS
        while len(self.acknowledged) < wanted:
            said = f"{dict(self.answers)} {self.refusals[-1:]}"
            assert set(self.answers) <= {0, 201, 503}, said
            assert time.monotonic() < ends_at, f"Nothing is acknowledged any more: {said}"
            time.sleep(0.01)

    @contextmanager
    def broken_by(self) -> Iterator[None]:
        """Return once what is done here broke a connection: somebody was being answered, or asks for more at once."""
        before, ends_at = self.answers[0], time.monotonic() + PATIENCE_SECONDS
        yield
        while self.answers[0] == before:
            assert time.monotonic() < ends_at, f"No connection breaks: {dict(self.answers)}"
            time.sleep(0.005)

    def wait_until_refused(self) -> None:
        """Return once the four were refused, each once as a rule."""
        wanted, ends_at = self.answers[503] + len(TOKENS), time.monotonic() + PATIENCE_SECONDS
        while self.answers[503] < wanted:
            assert time.monotonic() < ends_at, f"Nothing is refused: {dict(self.answers)}"
            time.sleep(0.02)


@contextmanager
def writing(addresses: Sequence[str], soil: UUID) -> Iterator[Writers]:
    """Yield the four at work; in the end each has its last reading acknowledged."""
    writers = Writers(addresses, soil)
    threads = [Thread(target=writers._write_on, args=[token], daemon=True) for token in TOKENS]
    for thread in threads:
        thread.start()
    try:
        yield writers
    finally:
        writers._stopped.set()
        for thread in threads:
            thread.join(2 * PATIENCE_SECONDS)


@dataclass(frozen=True)
class Count:
    """What became of the readings that were acknowledged."""

    tried: int
    lost: int
    doubled: int


def counted(database_url: str, acknowledged: dict[str, str]) -> Count:
    """Look for every acknowledged reading in a database whose file, chain and entries must be in order."""
    engines = open_engines(database_url)
    try:
        check_quickly(engines)
        with Session(engines.read) as session:
            assert audit_log.verify(session) is None
            stored = list(session.exec(select(SoilTest.remark, SoilTest.id)))
            told = Counter(session.exec(select(Trail.subject_id).where(col(Trail.subject_kind) == "soil_test")))
    finally:
        engines.dispose()
    # A reading without its one entry in the trail, or an entry without its reading, would be half an act.
    assert told == Counter(str(found) for _, found in stored)
    ids = {mark: str(found) for mark, found in stored}
    lost = sum(ids.get(mark) != given for mark, given in acknowledged.items())
    return Count(len(acknowledged), lost, len(stored) - len(ids))
