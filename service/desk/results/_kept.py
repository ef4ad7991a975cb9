"""What was worked out before, kept in this process under keys that say all it rests on, so that none of it is stale."""

from collections.abc import Callable, Hashable
from threading import Lock
from typing import Generic, TypeVar

T = TypeVar("T")


class Kept(Generic[T]):
    """The newest answers by their keys; the oldest makes room. Two processes may each have worked out the same one."""

    def __init__(self, *, most: int) -> None:
        self._most = most
        self._answers: dict[Hashable, T] = {}
        self._lock = Lock()

    def get(self, key: Hashable, work_out: Callable[[], T]) -> T:
        """Return the answer under a key, worked out unless it is kept."""
        if (kept := self._answers.get(key)) is not None:
            return kept
        answer = work_out()
        with self._lock:
            while len(self._answers) >= self._most:
                self._answers.pop(next(iter(self._answers)))
            self._answers[key] = answer
        return answer
