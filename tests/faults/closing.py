"""A disk that turns read-only under a process and back, at its signals: every call of its that writes there fails.

No mount is needed, nor an account with rights: SQLite's own table of system calls is where its calls are made to fail,
with the error that a read-only disk gives. What it maps into memory is left alone.
"""

import _sqlite3
import ctypes
import errno
import os
import signal
import sys
from types import FrameType
from typing import Any

CLOSE, OPEN = signal.SIGUSR1, signal.SIGUSR2
WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT
# What writes on a disk, each with its parameters.
WORD, SIZE = ctypes.c_int, ctypes.c_size_t
CALLS: dict[bytes, tuple[Any, ...]] = {
    b"write": (WORD, ctypes.c_void_p, SIZE),
    b"pwrite": (WORD, ctypes.c_void_p, SIZE, ctypes.c_int64),
    b"pwrite64": (WORD, ctypes.c_void_p, SIZE, ctypes.c_int64),
    b"ftruncate": (WORD, ctypes.c_int64),
    b"fallocate": (WORD, ctypes.c_int64, ctypes.c_int64),
    b"unlink": (ctypes.c_char_p,),
    b"mkdir": (ctypes.c_char_p, WORD),
}
OF_PYTHON = ("os.mkdir", "os.remove", "os.rename", "os.rmdir", "os.truncate")


class Vfs(ctypes.Structure):
    """SQLite's table of what it asks of the operating system, as its header gives it."""

    _fields_ = (
        ("version", ctypes.c_int),
        ("file_size", ctypes.c_int),
        ("longest_path", ctypes.c_int),
        ("next", ctypes.c_void_p),
        ("name", ctypes.c_char_p),
        ("data", ctypes.c_void_p),
        ("others", ctypes.c_void_p * 13),
        ("set_system_call", ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_void_p, ctypes.c_char_p, ctypes.c_void_p)),
    )


def _refused(result: Any, *parameters: Any) -> Any:
    def refuse(*given: Any) -> int:
        ctypes.set_errno(errno.EROFS)
        return -1

    return ctypes.CFUNCTYPE(result, *parameters, use_errno=True)(refuse)


@ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_char_p, ctypes.c_int, ctypes.c_int, use_errno=True)
def _open(path: bytes, flags: int, mode: int) -> int:
    if flags & WRITES:
        ctypes.set_errno(errno.EROFS)
        return -1
    try:
        return os.open(path, flags, mode)
    except OSError as error:
        ctypes.set_errno(error.errno or errno.EIO)
        return -1


class Disk:
    """The disk under a folder, as this process meets it."""

    def __init__(self, folder: str) -> None:
        self.folder, self.is_closed = os.path.realpath(folder), False
        # The module's own library, where it is one; in some Pythons it is part of the program.
        library = ctypes.CDLL(getattr(_sqlite3, "__file__", None))
        library.sqlite3_vfs_find.restype = ctypes.POINTER(Vfs)
        self._vfs = library.sqlite3_vfs_find(None)
        self._calls = {b"open": _open, **{name: _refused(ctypes.c_int, *given) for name, given in CALLS.items()}}
        sys.addaudithook(self._ask)

    def turn(self, number: int, _frame: FrameType | None) -> None:
        """Close or open the disk, as the signal says."""
        self.is_closed = number == CLOSE
        for name, call in self._calls.items():
            # Without a call of ours SQLite takes its own again.
            taken = ctypes.cast(call, ctypes.c_void_p) if self.is_closed else None
            assert self._vfs.contents.set_system_call(self._vfs, name, taken) == 0, name

    def _ask(self, event: str, given: tuple[Any, ...]) -> None:
        if not self.is_closed or event not in ("open", *OF_PYTHON):
            return
        writes = event != "open" or bool(given[2] & WRITES)
        if writes and isinstance(given[0], str | bytes) and self._holds(os.fsdecode(given[0])):
            raise OSError(errno.EROFS, os.strerror(errno.EROFS), os.fsdecode(given[0]))

    def _holds(self, path: str) -> bool:
        return os.path.realpath(path).startswith(self.folder)


def obey(folder: str) -> None:
    """Let the signals close and open the disk under a folder."""
    disk = Disk(folder)
    for number in (CLOSE, OPEN):
        signal.signal(number, disk.turn)
