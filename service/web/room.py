"""A room of addresses whose forms are read when somebody first asks, so that a start does not read them all."""

from collections.abc import Callable
from threading import RLock
from typing import Any

from fastapi import APIRouter
from fastapi.routing import APIRoute
from starlette.routing import Match, compile_path
from starlette.types import Scope

# What a program uses stands below this, and nothing else is told in the description for programs.
PROGRAMS = "/api/v1"
_OF_THE_ADDRESS = frozenset({"path_regex", "path_format", "param_convertors"})
_reading = RLock()


class _LateRoute(APIRoute):
    """A route that knows its address from the start, and what it takes and gives from its first request on."""

    def __init__(self, path: str, endpoint: Callable[..., Any], **given: Any) -> None:
        self._given: dict[str, Any] | None = given
        self.path, self.endpoint, self.name = path, endpoint, given.get("name") or endpoint.__name__
        self.methods = {method.upper() for method in given.get("methods") or ["GET"]}
        self.include_in_schema = given["include_in_schema"]
        self._begins = path.partition("{")[0]

    def __getattr__(self, name: str) -> Any:
        """Read the form of the endpoint: asked for only while an attribute is missing."""
        if name.startswith("__"):
            raise AttributeError(name)
        if name in _OF_THE_ADDRESS:
            self.path_regex, self.path_format, self.param_convertors = compile_path(self.path)
            return self.__dict__[name]
        with _reading:
            given = self.__dict__.get("_given")
            if given is not None:
                super().__init__(self.path, self.endpoint, **given)
                self._given = None
        return object.__getattribute__(self, name)

    def matches(self, scope: Scope) -> tuple[Match, Scope]:
        """Return whether this is the address asked for; most are told apart by how they begin."""
        if not scope["path"].startswith(self._begins):
            return Match.NONE, {}
        return super().matches(scope)


class Room(APIRouter):
    """Addresses of one subject; those of programs are told in the description."""

    def __init__(self, prefix: str = "", **given: Any) -> None:
        told = prefix.startswith(PROGRAMS)
        super().__init__(prefix=prefix, route_class=_LateRoute, include_in_schema=told, **given)
