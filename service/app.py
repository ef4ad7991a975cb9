"""The assembly: settings in, application out."""

import gc
import secrets
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import UTC, datetime
from functools import partial

from fastapi import FastAPI
from fastapi.middleware.gzip import GZipMiddleware
from fastapi.staticfiles import StaticFiles
from starlette.concurrency import run_in_threadpool
from uvicorn.config import LOGGING_CONFIG, Config

from service.desk.doorway import Stores
from service.mail_sending import send_due
from service.nightly import archive_nightly
from service.records.database import check_quickly, open_engines
from service.records.files import FileStore
from service.rounds import Round
from service.settings import Settings
from service.web import error_pages, routes
from service.web.acts_first import ActsFirst
from service.web.entries import Acknowledged
from service.web.hosts import KnownHosts
from service.web.joined_files import FOLDER, Files
from service.web.metrics import Counts
from service.web.request_guard import Guard
from service.web.request_log import Journal, write_json_lines
from service.web.slow_clients import MOST_CONNECTIONS, Patience

# Soon enough that somebody who waits for a mail does not wonder.
MAIL_EVERY_S = 15.0


def open_stores(settings: Settings, clock: Callable[[], datetime] | None = None) -> Stores:
    """Return the engines, files and clock that the settings name."""
    engines = open_engines(settings.database_url)
    check_quickly(engines)
    # Without a secret of its own (never so in production) an installation forgets at each start how it draws.
    key = (settings.secret.get_secret_value() or secrets.token_hex()).encode()
    now = clock or (lambda: datetime.now(UTC))
    files, sends_mail = FileStore(str(settings.files)), settings.mail_server is not None
    return Stores(engines.read, engines.write, files, now, key, settings.address, sends_mail)


def create_app(settings: Settings | None = None, stores: Stores | None = None) -> FastAPI:
    """Return the application; tests hand in stores with their own clock."""
    settings = settings or Settings()
    stores = stores or open_stores(settings)

    archive = partial(archive_nightly, stores, folder=settings.archive_folder, nightly_at=settings.nightly_at)
    rounds = (
        Round("archive", archive, every_s=60.0),
        Round("mail", partial(send_due, stores, settings.mail_server), every_s=MAIL_EVERY_S),
    )

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        for one in rounds:
            one.start()
        yield
        for one in rounds:
            await run_in_threadpool(one.stop)
        stores.read.dispose()
        stores.write.dispose()

    app = FastAPI(
        title="Loambook",
        description="A soil-testing job for pressed earth blocks, from the sack to the issued result.",
        version="1",
        openapi_url="/api/v1/openapi.json",
        docs_url=None,
        redoc_url=None,
        lifespan=lifespan,
    )
    app.state.stores = stores
    app.state.address = settings.address
    app.state.https = settings.https
    app.state.archives = settings.archive_folder
    app.state.metrics_token = settings.metrics_token.get_secret_value()
    app.state.counts = Counts() if app.state.metrics_token else None
    # Our own files alone travel compressed: beside a secret of a page, their length would tell of it.
    vendor = ("django_htmx", "static/django_htmx")
    app.mount("/static", GZipMiddleware(Files(directory=FOLDER)), name="static")
    app.mount("/vendor", GZipMiddleware(StaticFiles(packages=[vendor])), name="vendor")
    routes.include(app)
    error_pages.install(app)
    app.add_middleware(Acknowledged)
    app.add_middleware(KnownHosts, hosts=settings.hosts, address=settings.address)
    app.add_middleware(
        Guard, origins=frozenset({settings.address}), https=settings.https, subdomains=settings.https_subdomains
    )
    app.add_middleware(ActsFirst)
    app.add_middleware(Journal, counts=app.state.counts)
    return app


def create_worker() -> FastAPI:
    """Return the application of one of several processes, with the settings of the environment."""
    write_json_lines()
    app = create_app(Settings(production=True))
    # As one process alone does (cli/installation.quick_start): what is loaded now is never garbage.
    gc.freeze()
    return app


def server_config(settings: Settings, app: FastAPI | str, *, workers: int = 1) -> Config:
    """Return how the server listens, whose word it takes and what it writes down.

    Several processes each make the application for themselves: what makes it comes by its name.
    """
    return Config(
        app,
        factory=isinstance(app, str),
        workers=workers,
        host=settings.host,
        port=settings.port,
        http=Patience,
        limit_concurrency=MOST_CONNECTIONS,
        # The word of a proxy is taken only where the settings name it.
        proxy_headers=bool(settings.proxies),
        forwarded_allow_ips=list(settings.proxies),
        server_header=False,
        # Addresses can hold the token of a shared result, which belongs into no log.
        access_log=False,
        log_config=None if settings.production else LOGGING_CONFIG,
        # A page that is being answered is finished; one that hangs does not hold up the stop for ever.
        timeout_graceful_shutdown=20,
    )
