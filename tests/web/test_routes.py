"""Every address, for everybody, with his own thing and with another's: held against the table in rights.py.

``LOAMBOOK_WRITE_DOCS=1 pytest tests/web/test_routes.py`` writes docs/routes.md; without it the file must be what came
out.
"""

import os
import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

import pytest
from fastapi.routing import iter_route_contexts
from sqlmodel import Session, select
from starlette.testclient import TestClient

from service.desk import people, photos
from service.desk.doorway import Role
from service.desk.results import live, share_links
from service.desk.signing_in import own_access, tablets
from service.desk.signing_in.lifetimes_and_tries import MOST_TRIES
from service.desk.today import feed
from service.paper import archiving, importing, issuing, photo_files
from service.records.batches import Batch
from service.records.blocks import Block
from service.records.materials import Material, Receipt
from service.records.recipes import Recipe
from service.web.authentication import sha256
from service.web.cookies import COOKIE, TABLET_COOKIE
from tests.cast import PASSWORD, Cast, open_cast
from tests.pixels import jpeg
from tests.trials import a_tried_job
from tests.web.rights import rights

DOCS = Path(__file__).parents[2] / "docs" / "routes.md"
PEOPLE = ("stranger", "link holder", "tablet", "owner", "technician", "technician by PIN", "customer")
PROGRAMS = ("owner's token", "owner's token as technician", "technician's token", "customer's token")
STRANGERS = {"stranger", "link holder", "tablet"}
TABLET = {"tablet", "technician by PIN"}
SHOP = {"owner", "technician", "technician by PIN", *PROGRAMS[:3]}
OWNERS = {"owner", "owner's token"}
CUSTOMERS = {"customer", "customer's token"}


@dataclass(frozen=True)
class Opened:
    """The shop: who calls, what belongs to Cy and what belongs to Dov."""

    cast: Cast
    clients: dict[str, TestClient]
    of: dict[str, dict[str, str]]


@pytest.fixture(scope="module")
def opened(migrated_sqlite: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Opened]:
    # Who may is asked before a row is read, so one kind of database is enough.
    folder = tmp_path_factory.mktemp("routes")
    url = f"sqlite:///{shutil.copy(migrated_sqlite, folder / 'shop.sqlite')}"
    # How often somebody may try has tests of its own; here one address asks some thousand times.
    patch = pytest.MonkeyPatch()
    patch.setitem(MOST_TRIES, "from", 10**6)
    patch.setitem(MOST_TRIES, "email", 10**6)
    cast = open_cast(url, folder)
    of = {name: _things(cast, name, number) for number, name in enumerate(("cy", "dov"), 1)}
    for name, things in of.items():
        people.invite(
            cast.olu, name="Ina", email=f"ina.{name}@shop.example", role=Role.CUSTOMER,
            customer_id=cast.customers[name], token_sha256=sha256(things["address"]),
        )  # fmt: skip
    own_access.set_pin(cast.tess, password=PASSWORD, pin="804153")
    # A person has one address of each kind: opening another of the same would end the first.
    feed.open_feed(cast.tess, token_sha256=sha256("calendar of cy"), whole=False)
    feed.open_feed(cast.olu, token_sha256=sha256("calendar of dov"), whole=True)
    tablets.enrol(cast.olu, name="To be", token_sha256=sha256("a tablet to be"))
    archiving.make(cast.olu, folder=cast.app.state.archives)
    yield Opened(cast, _clients(cast, of["cy"]["share"]), of)
    patch.undo()
    cast.stores.read.dispose()
    cast.stores.write.dispose()


def _things(cast: Cast, name: str, number: int) -> dict[str, str]:
    whose = replace(cast, customers={"cy": cast.customers[name]})
    tried = a_tried_job(whose, number=number)
    seen = live.live(cast.olu, job_id=tried.job_id).sha256
    issued_id = issuing.issue(cast.olu, job_id=tried.job_id, remark="", seen_sha256=seen)
    share, last_day = f"share of {name}", (cast.clock.now + timedelta(days=9)).date()
    link = share_links.make(cast.olu, issued_id=issued_id, token_sha256=sha256(share), last_day=last_day)
    photo_id = photo_files.take_in(cast.tess, of="job", thing_id=tried.job_id, content=jpeg())
    photos.show(cast.olu, photo_id=photo_id, shown=True)
    table = f"job,recipe,age\nOld job of {name},A,7\n"
    file_id = importing.bring(cast.olu, name="old.csv", content=table.encode())
    with Session(cast.stores.write, expire_on_commit=False) as session:
        receipt = session.exec(select(Receipt).where(Receipt.job_id == tried.job_id)).first()
        recipe = session.exec(select(Recipe).where(Recipe.job_id == tried.job_id)).first()
        assert receipt and recipe
        batch = session.exec(select(Batch).where(Batch.recipe_id == recipe.id)).first()
        assert batch
        block = session.exec(select(Block).where(Block.batch_id == batch.id)).first()
        sand = session.exec(select(Material).where(Material.kind == "sand")).first()
        assert block and sand
        batch.wetted_at = tried.pressed_at
        session.commit()
        things = {
            "job_id": tried.job_id, "receipt_id": receipt.id, "material_id": receipt.material_id, "sand_id": sand.id,
            "recipe_id": recipe.id, "batch_id": batch.id, "block_id": block.id, "issued_id": issued_id,
            "link_id": link.id, "customer_id": cast.customers[name], "person_id": cast.ids[name],
            "photo_id": photo_id, "file_id": file_id,
        }  # fmt: skip
    return {**{key: str(value) for key, value in things.items()}, "share": share, "address": f"address of {name}"}


def _clients(cast: Cast, share: str) -> dict[str, TestClient]:
    names = {"stranger": None, "owner": "olu", "technician": "tess", "customer": "cy"}
    clients = {who: cast.browser(name).client for who, name in names.items()}
    # Whoever holds a link tries its secret as a session too.
    clients["link holder"] = cast.browser(None).client
    clients["link holder"].cookies.set(COOKIE, share)
    for who in TABLET:
        clients[who] = _tablet(cast, who)
    tablets.open_by_pin(
        cast.nobody,
        proof=tablets.PinProof(cast.ids["tess"]),
        token_sha256=sha256("by PIN"),
        device_sha256=sha256("technician by PIN"),
    )
    clients["technician by PIN"].cookies.set(COOKIE, "by PIN")
    tokens = zip(PROGRAMS, ("olu", "olu", "tess", "cy"), ("owner", "technician", "technician", "customer"), strict=True)
    for who, name, role in tokens:
        token = uuid4().hex
        people.make_token(
            cast.olu, person_id=cast.ids[name], role=Role(role), token_sha256=sha256(token), lasts_days=30
        )
        clients[who] = TestClient(cast.app, base_url="http://localhost", headers={"authorization": f"Bearer {token}"})
    return clients


def _tablet(cast: Cast, secret: str) -> TestClient:
    tablets.enrol(cast.olu, name=secret, token_sha256=sha256(f"enrol {secret}"))
    tablets.begin(cast.nobody, token_sha256=sha256(f"enrol {secret}"), device_sha256=sha256(secret))
    client = cast.browser(None).client
    client.cookies.set(TABLET_COOKIE, secret)
    return client


def routes(cast: Cast) -> dict[str, Any]:
    """Return every route that the running service has, by its method and path."""
    found: dict[str, Any] = {}
    for one in iter_route_contexts(cast.app.routes):
        # Mounts (style sheets, scripts) have no methods; the routes inside them are files.
        for method in (one.methods or set()) - {"HEAD"}:
            found[f"{method} {one.path}"] = one
    return found


def test_the_table_names_every_route_and_no_other(opened: Opened) -> None:
    assert set(rights()) == set(routes(opened.cast))


def filled(opened: Opened, route: str, whose: str) -> str:
    """Return the address with the ids of somebody's things in it."""
    path, things = route.split()[1], opened.of[whose]
    if path.startswith("/shared"):
        things = {**things, "token": things["share"]}
    elif path.startswith("/sign-in"):
        things = {**things, "token": things["address"]}
    elif path.startswith("/tablets"):
        things = {**things, "token": "a tablet to be"}
    elif path.startswith("/tablet/"):
        things = {**things, "person_id": str(opened.cast.ids["tess"])}
    elif path.startswith("/materials"):
        things = {**things, "material_id": things["sand_id"]}
    elif path.startswith("/calendar"):
        things = {**things, "token": f"calendar of {whose}"}
    elif path.startswith("/at/"):
        things = {**things, "thing_id": things["block_id"]}
    archive = next(opened.cast.app.state.archives.glob("*.zip")).name
    words = {
        "name": archive if path.startswith("/backups") else "moisture",
        "key": "nmac-ceb",
        "test": "bending",
        "form": "csv",
    }
    words["position"] = "1"
    return re.sub(r"{(\w+)}", lambda found: things.get(found[1]) or words.get(found[1]) or str(UUID(int=7)), path)


def body(schema: dict[str, Any], route: str) -> Any:
    """Return a body that the schema of a route allows."""
    method, path = route.split()
    wanted = schema["paths"][path][method.lower()].get("requestBody", {}).get("content", {}).get("application/json")
    return example(schema, wanted["schema"]) if wanted else None


def example(schema: dict[str, Any], of: dict[str, Any]) -> Any:
    """Return something that a part of the schema allows."""
    if "$ref" in of:
        return example(schema, schema["components"]["schemas"][of["$ref"].rsplit("/", 1)[1]])
    given = [*of.get("examples", ()), *of.get("enum", ())]
    if given:
        return given[0]
    if of.get("type") == "object":
        return {name: example(schema, of["properties"][name]) for name in of.get("required", ())}
    if of.get("type") == "array":
        return [example(schema, of["items"])]
    plain = {"boolean": True, "string": "0" * 64 if "pattern" in of else str(UUID(int=7)), "number": 1.0, "integer": 1}
    return plain.get(of.get("type", ""))


def ask(opened: Opened, route: str, who: str, whose: str) -> str:
    """Return in a word what somebody is answered.

    What would write comes without the key of its act, which the doorway asks for once it has let somebody in: so
    everybody's right is tried and nothing is changed.
    """
    method, path = route.split()[0], filled(opened, route, whose)
    sent: dict[str, Any] = {}
    if method != "GET" and path.startswith("/api/"):
        sent["json"] = body(opened.cast.app.openapi(), route)
    answer = opened.clients[who].request(method, path, follow_redirects=False, **sent)
    to_sign_in = answer.status_code == 303 and answer.headers["location"].startswith(("/sign-in", "/tablet"))
    if to_sign_in:
        return "sign in"
    if answer.status_code in (401, 403, 404):
        return str(answer.status_code)
    # 409: let in, and told that the thing is in no state for this.
    assert answer.status_code in (200, 303, 409, 422), f"{route} for {who}: {answer.status_code}"
    assert answer.status_code != 422 or method != "GET", f"{route} for {who}: {answer.text[:200]}"
    return "in"


def may(right: str, who: str, whose: str, *, api: bool) -> str:
    """Return in a word what the table promises somebody."""
    if right == "tablet":
        return "in" if who in TABLET else "404"
    stranger = who in STRANGERS or (who in PROGRAMS and not api)
    if right in ("anyone", "key"):
        return "in"
    if right == "monitor":
        return "404"
    if stranger:
        return "401" if api else "sign in"
    if right == "own" and who in CUSTOMERS:
        return "in" if whose == "cy" else "404"
    admitted = {"signed in": SHOP | CUSTOMERS, "shop": SHOP, "own": SHOP, "owner": OWNERS, "customers": CUSTOMERS}
    admitted |= {"by password": admitted["signed in"] - TABLET, "technician": {"technician"}}
    admitted["sharers"] = OWNERS | CUSTOMERS
    return "in" if who in admitted[right] else "403"


def callers(right: str) -> Iterator[tuple[str, str]]:
    """Yield who asks, for whose thing: another's makes a difference where a customer is let in at all."""
    for who in (*PEOPLE, *PROGRAMS):
        yield who, "cy"
        if (
            right in ("own", "shop", "owner", "sharers", "signed in", "by password", "anyone", "key")
            and who in CUSTOMERS
        ):
            yield who, "dov"


@pytest.mark.parametrize("route", sorted(rights()))
def test_the_service_lets_in_whom_the_table_names(opened: Opened, route: str) -> None:
    right = rights()[route]
    answers = {(who, whose): ask(opened, route, who, whose) for who, whose in callers(right)}
    api = route.split()[1].startswith("/api/")
    assert answers == {(who, whose): may(right, who, whose, api=api) for who, whose in answers}


HEAD = """# Who may come in where

Written by `LOAMBOOK_WRITE_DOCS=1 pytest tests/web/test_routes.py` from tests/web/rights.py, which the same tests hold
against the running service: every address, for everybody named here, with his own thing and with another customer's.

`in`: let in. `sign in`: sent to sign in. 401, 403 and 404: signed out, wrong role, nothing there (or not his to see).
An act is let in only up to its missing key, so that the trial changes nothing. A link holder is somebody whose
only secret is a share link, tried as a session too.
"""


def written() -> str:
    """Return the table as the file has it."""
    columns = [*callers("own")]
    titles = [who if whose == "cy" else f"{who}, another's thing" for who, whose in columns]
    lines = [HEAD, f"| Address | {' | '.join(titles)} |", "|---" * (len(titles) + 1) + "|"]
    for route, right in sorted(rights().items()):
        api = route.split()[1].startswith("/api/")
        cells = (may(right, who, whose, api=api) for who, whose in columns)
        lines.append(f"| `{route}` | {' | '.join(cells)} |")
    return "\n".join(lines) + "\n"


def test_the_table_in_the_docs_is_the_one_that_was_tried() -> None:
    if os.environ.get("LOAMBOOK_WRITE_DOCS") == "1":
        DOCS.write_text(written())
    assert DOCS.read_text() == written()


@pytest.mark.parametrize("path", ["/shared/no-such-secret", "/shared/no-such-secret/pdf", "/sign-in/no-such-secret"])
def test_a_secret_that_never_was_opens_nothing(opened: Opened, path: str) -> None:
    assert {client.get(path).status_code for client in opened.clients.values()} == {404}
