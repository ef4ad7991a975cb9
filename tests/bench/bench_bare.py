"""What a page takes beside a bare page: FastAPI, Jinja2 and SQLModel with as many rows and as many bytes, nothing else.

The bare page has no session, no rights, no language, no units and no form; it is what the same libraries take at least.
"""

import re
from collections.abc import Callable
from statistics import median
from time import process_time
from typing import Any

from fastapi import FastAPI
from fastapi.responses import HTMLResponse
from fastapi.testclient import TestClient
from jinja2 import Environment
from sqlalchemy import Engine
from sqlmodel import Session, col, select

from service.records.batches import Batch
from service.records.blocks import Block
from service.records.customers import Customer
from service.records.jobs import Job
from service.records.recipes import Recipe

WANTED = 0.5
# An address that does nothing: what the client and the frame around an answer take.
NOTHING = "/health/live"
BARE = Environment(autoescape=True).from_string(
    "<!doctype html><title>Bare</title><table>{% for row in rows %}<tr>{% for value in row %}<td>{{ value }}</td>"
    "{% endfor %}<td>{{ filling }}</td></tr>{% endfor %}</table>"
)


def _jobs(session: Session, most: int) -> list[Any]:
    question = select(Job, Customer).join(Customer, col(Customer.id) == col(Job.customer_id))
    found = session.exec(question.where(col(Job.closed_at).is_(None)).order_by(col(Job.number).desc()).limit(most))
    return [(job.number, job.site, customer.name, job.question, job.created_at) for job, customer in found]


def _blocks(session: Session, most: int) -> list[Any]:
    question = (
        select(Block, Batch, Recipe, Job)
        .join(Batch, col(Batch.id) == col(Block.batch_id))
        .join(Recipe, col(Recipe.id) == col(Batch.recipe_id))
        .join(Job, col(Job.id) == col(Recipe.job_id))
        .where(col(Job.closed_at).is_(None))
        .limit(most)
    )
    return [
        (block.label, block.pressed_at, batch.number, recipe.label, job.number)
        for block, batch, recipe, job in session.exec(question)
    ]


def bare_page(engine: Engine, rows: Callable[[Session, int], list[Any]], *, most: int, size: int) -> TestClient:
    """Return a browser at a bare page of so many rows and about so many bytes."""
    app = FastAPI()
    with Session(engine) as session:
        plain = len(BARE.render(rows=rows(session, most), filling=""))
    filling = "x" * max(0, (size - plain) // most)

    @app.get("/")
    def show() -> HTMLResponse:
        with Session(engine) as asked:
            return HTMLResponse(BARE.render(rows=rows(asked, most), filling=filling))

    @app.get(NOTHING)
    def nothing() -> HTMLResponse:
        return HTMLResponse("")

    return TestClient(app)


def _took_ms(client: TestClient, path: str) -> float:
    began = process_time()
    client.get(path)
    return 1000 * (process_time() - began)


def beside_bare(client: TestClient, engine: Engine, rounds: int) -> list[str]:
    """Return the lines of the report: the list of jobs and the curing queue, each in turn with its bare page."""
    lines = [
        "## A page over a bare one of as many rows and bytes",
        "",
        "Processor time without the client's own. Wanted: at least half the throughput of the bare page.",
        "",
        "| address | rows | kB | page, ms | bare, ms | throughput over bare | |",
        "|---|---|---|---|---|---|---|",
    ]
    for path, rows, mark in (("/", _jobs, r'href="/jobs/[0-9a-f-]{36}'), ("/curing", _blocks, r'label"[^>]*>[0-9]+-')):
        text = client.get(path).text
        most = len(re.findall(mark, text))
        bare = bare_page(engine, rows, most=most, size=len(text))
        asked = ((client, path), (client, NOTHING), (bare, "/"), (bare, NOTHING))
        for one, at in asked:
            one.get(at)
        took = [[_took_ms(one, at) for one, at in asked] for _ in range(rounds)]
        page, page_frame, plain, plain_frame = (median(column) for column in zip(*took, strict=True))
        page, plain = page - min(page_frame, plain_frame), plain - min(page_frame, plain_frame)
        said = "" if plain / page >= WANTED else f"under {WANTED:g}"
        lines.append(
            f"| `{path}` | {most} | {len(text) / 1000:.0f} | {page:.1f} | {plain:.1f} | {plain / page:.2f} | {said} |"
        )
    return lines
