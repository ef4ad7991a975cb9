"""A bare durable insert: FastAPI and SQLModel with the columns and indexes of a crushing, and nothing else.

``python -m tests.bench.bare_writes PORT URL`` serves it. There is no session, no right, no key that makes a form sent
twice harmless, no trail, no reading that is looked at; an insert is on the disk before it is answered, as ours is.
"""

import sys
from datetime import UTC, datetime
from typing import Annotated, Any
from uuid import UUID, uuid4

import uvicorn
from fastapi import FastAPI, Form
from fastapi.responses import RedirectResponse
from sqlalchemy import Engine, MetaData, create_engine, event
from sqlmodel import Field, Session, SQLModel


class Told(SQLModel):
    """What is sent of a crushing."""

    press_session_id: UUID | None = None
    outcome: str
    state: str
    gauge_mpa: float | None = None
    peak_read: str | None = None
    orientation: str = "flat"
    faces: str = "bare"
    length_mm: float | None = None
    width_mm: float | None = None
    height_mm: float | None = None
    mass_kg: float | None = None
    failure: str | None = None
    remark: str | None = None


class BareCrushing(Told, table=True):
    """What is kept of it."""

    metadata = MetaData()
    id: UUID = Field(default_factory=uuid4, primary_key=True)
    block_id: UUID = Field(index=True)
    created_at: datetime = Field(default_factory=lambda: datetime.now(UTC), index=True)


def engine_of(url: str) -> Engine:
    """Return the engine that the libraries' own documents make, but durable and patient on SQLite."""
    given: dict[str, Any] = {"pool_size": 40, "max_overflow": 40}
    if url.startswith("sqlite"):
        given["connect_args"] = {"timeout": 60}
    engine = create_engine(url, **given)
    if engine.dialect.name == "sqlite":

        @event.listens_for(engine, "connect")
        def _on_connect(connection: Any, _record: Any) -> None:
            connection.execute("PRAGMA journal_mode=WAL")
            connection.execute("PRAGMA synchronous=FULL")

    return engine


def bare_app(url: str) -> FastAPI:
    """Return the application with its one table."""
    engine, app = engine_of(url), FastAPI()
    BareCrushing.metadata.create_all(engine)

    def insert(block_id: UUID, told: Told) -> BareCrushing:
        with Session(engine) as session:
            row = BareCrushing.model_validate(told, update={"block_id": block_id})
            session.add(row)
            session.commit()
            session.refresh(row)
            return row

    @app.get("/health/live")
    def live() -> str:
        return "ok"

    @app.post("/api/v1/blocks/{block_id}/crushings", status_code=201)
    def record(block_id: UUID, told: Told) -> BareCrushing:
        return insert(block_id, told)

    @app.post("/blocks/{block_id}/crushings")
    def record_form(block_id: UUID, told: Annotated[Told, Form()]) -> RedirectResponse:
        insert(block_id, told)
        return RedirectResponse(f"/blocks/{block_id}", 303)

    return app


if __name__ == "__main__":
    uvicorn.run(bare_app(sys.argv[2]), port=int(sys.argv[1]), http="h11", access_log=False, log_level="warning")
