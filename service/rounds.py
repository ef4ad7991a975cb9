"""The rounds that nobody asks for: a thread each, so that none waits for another."""

import logging
from collections.abc import Callable
from dataclasses import dataclass, field
from threading import Event, Thread

log = logging.getLogger(__name__)

# How long a stop waits for what is just being done.
STOP_S = 20.0


@dataclass
class Round:
    """A thread that looks now and then whether something is due, and does it."""

    name: str
    work: Callable[[], object]
    every_s: float
    _stopped: Event = field(default_factory=Event)
    _thread: Thread | None = None

    def start(self) -> None:
        """Begin to look."""
        self._thread = Thread(target=self._run, name=self.name, daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Look no more; wait for what is under way."""
        self._stopped.set()
        if self._thread is not None:
            self._thread.join(STOP_S)

    def _run(self) -> None:
        while not self._stopped.wait(self.every_s):
            try:
                self.work()
            except Exception:
                # One failure must not end the rounds: the next look tries again.
                log.exception("the round %s failed", self.name)
