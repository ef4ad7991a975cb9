"""Templates as Python has them, kept from one process to the next: all of them take five seconds to compile."""

import hashlib
from contextlib import suppress

import babel
import jinja2
from jinja2 import FileSystemBytecodeCache
from jinja2.bccache import Bucket

from service.places import PACKAGE

# What a template says that is known beforehand is written as it is compiled, by these.
WRITERS = ("words", "paper/templates.py")


class Compiled(FileSystemBytecodeCache):
    """Compiled templates of one language, in a folder of this account alone below that for temporary files."""

    def __init__(self, language: str) -> None:
        # Jinja2 makes the folder, and refuses one that belongs to somebody else or that others may write to.
        super().__init__()
        told = hashlib.sha256(f"{language} {jinja2.__version__} {babel.__version__}".encode())
        for place in WRITERS:
            for file in sorted((PACKAGE / place).rglob("*.*")) or [PACKAGE / place]:
                if file.suffix in (".py", ".po", ".toml"):
                    told.update(file.read_bytes())
        self.writers = told.hexdigest()

    def get_cache_key(self, name: str, filename: str | None = None) -> str:
        """Return the name of a compiled template: another one for each place, language and writer of words."""
        return hashlib.sha256(f"{name} {filename} {self.writers}".encode()).hexdigest()

    def load_bytecode(self, bucket: Bucket) -> None:
        """Read a compiled template; one that is broken off, in whatever way that shows, is compiled again."""
        try:
            super().load_bytecode(bucket)
        except Exception:
            bucket.reset()

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep a compiled template where there is room for it."""
        with suppress(OSError):
            super().dump_bytecode(bucket)


def compiled(language: str) -> Compiled | None:
    """Return what is compiled already, or nothing where this account has no folder for it."""
    try:
        return Compiled(language)
    except (OSError, RuntimeError):
        return None
