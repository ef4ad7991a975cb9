"""The commands of a real shop: opening it, serving it, migrating its database, letting somebody in anew."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal, cast

import typer

from service.cli.installation import (
    answer,
    answer_together,
    bring_up_to_date,
    claim,
    quick_start,
    read_settings,
    stop,
    told,
)

if TYPE_CHECKING:
    from service.desk.doorway import Caller, Stores, Units
    from service.settings import Settings

NOT_OPEN = "No shop is open in this folder. Run 'loambook open' to open one."
ZONE_FILE, ZONE_LINK = Path("/etc/timezone"), Path("/etc/localtime")
# What a shop is opened with, in the order in which it is asked for.
QUESTIONS = {
    "name": "What is the shop called?",
    "owner_name": "Your name",
    "email": "Your e-mail address, to sign in with",
    "time_zone": "Time zone of the shop",
    "currency": "Currency, three letters",
    "paper": "Paper (A4 or Letter)",
    "units_first": "Units (metric or imperial)",
}
NEEDED = ("name", "owner_name", "email")


def serve(
    workers: Annotated[int, typer.Option(min=1, max=16, help="How many processes answer; see docs/run-a-shop.md.")] = 1,
) -> None:
    """Bring the database up to date and start the shop."""
    with quick_start():
        settings = read_settings(production=True)
        claim(settings, remedy="LOAMBOOK_PORT")
        bring_up_to_date(settings)
        from service.app import open_stores

        with told():
            stores = open_stores(settings)
            introduction = _introduction(settings, stores)
        for line in introduction:
            typer.echo(line)
    if workers == 1:
        answer(settings, stores)
        return
    # Each process opens its own; a connection that two share would mix up what they say.
    stores.read.dispose()
    stores.write.dispose()
    answer_together(settings, workers=workers)


def _introduction(settings: Settings, stores: Stores) -> list[str]:
    """Return which shop is served, where it is reached and where its data is."""
    from secrets import token_hex

    from service.desk import people
    from service.desk.doorway import Caller, Via

    name = people.shop_name(Caller(stores=stores, via=Via.COMMAND, request_id=token_hex(8)))
    shop = f"{name} is at {settings.address}." if name else f"{NOT_OPEN} Loambook is at {settings.address}."
    return [shop, f"Its data is in {settings.data.resolve()}."]


def migrate() -> None:
    """Bring the database up to date."""
    bring_up_to_date(read_settings())


def open_shop(
    name: Annotated[str | None, typer.Argument(help="What the shop is called.")] = None,
    owner: Annotated[str | None, typer.Option(help="The owner's name.")] = None,
    email: Annotated[str | None, typer.Option(help="The owner's e-mail address.")] = None,
    time_zone: Annotated[str | None, typer.Option(help="Such as America/Denver.")] = None,
    currency: Annotated[str | None, typer.Option(help="Three letters, such as USD.")] = None,
    paper: Annotated[str | None, typer.Option(help="A4 or Letter.")] = None,
    units: Annotated[Literal["metric", "imperial"] | None, typer.Option(help="Which units come first.")] = None,
) -> None:
    """Open an empty shop and print the owner's sign-in link. It asks for what you leave out."""
    given = {"name": name, "owner_name": owner, "email": email, "time_zone": time_zone}
    given |= {"currency": currency, "paper": paper, "units_first": units}
    settings = read_settings()
    bring_up_to_date(settings)
    keep_secret(settings)
    link = f"{settings.address}/sign-in/{_opened(settings, {key: text for key, text in given.items() if text})}"
    typer.echo(link)
    typer.echo("Start Loambook ('./run serve' in a clone), then open this link. It works once, within 7 days.")


def _opened(settings: Settings, given: dict[str, str]) -> str:
    """Open the shop and return its owner's invitation; whatever is not given or refused is asked for."""
    from secrets import token_hex, token_urlsafe

    from service.app import open_stores
    from service.desk import people
    from service.desk.doorway import Caller, Via
    from service.errors import Invalid

    stores, token = open_stores(settings), token_urlsafe(32)
    caller = Caller(stores=stores, via=Via.COMMAND, request_id=token_hex(8))
    try:
        if people.shop_name(caller):
            stop("This shop is open already.")
        asks = any(key not in given for key in NEEDED)
        while True:
            answers = _answers(given, asks=asks)
            try:
                _open(caller, answers, token)
                return token
            except Invalid as refusal:
                if not asks or not set(refusal.fields) & set(QUESTIONS):
                    raise
                for key, sentence in refusal.fields.items():
                    typer.echo(f"{answers.get(key, '')}: {sentence}", err=True)
                given = {key: text for key, text in answers.items() if key not in refusal.fields}
    except Invalid as refusal:
        stop(" ".join([refusal.sentence, *(f"{key}: {text}" for key, text in refusal.fields.items())]))
    finally:
        stores.read.dispose()
        stores.write.dispose()


def _answers(given: dict[str, str], *, asks: bool) -> dict[str, str]:
    """Return an answer to every question: the one given, else the one typed, else what is usual."""
    usual = {"time_zone": own_time_zone(), "currency": "USD", "paper": "A4", "units_first": "metric"}
    if not asks:
        return {**usual, **given}
    return {key: given.get(key) or typer.prompt(text, default=usual.get(key)) for key, text in QUESTIONS.items()}


def _open(caller: Caller, answers: dict[str, str], token: str) -> None:
    from service.desk import people
    from service.desk.doorway import ShopFacts
    from service.web.authentication import sha256

    papers = {"a4": "A4", "letter": "Letter"}
    facts = ShopFacts(
        name=answers["name"].strip(),
        time_zone=answers["time_zone"].strip(),
        currency=answers["currency"].strip().upper(),
        paper=papers.get(answers["paper"].strip().lower(), answers["paper"]),
        units_first=cast("Units", answers["units_first"].strip().lower()),
    )
    people.open_shop(
        caller,
        facts=facts,
        owner_name=answers["owner_name"].strip(),
        owner_email=answers["email"],
        token_sha256=sha256(token),
    )


def keep_secret(settings: Settings) -> None:
    """Draw the installation's secret and keep it where only this account reads it, unless there is one."""
    from secrets import token_urlsafe

    if settings.secret.get_secret_value():
        return
    file = settings.own_secret_file
    with os.fdopen(os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as kept:
        kept.write(token_urlsafe(32))
    typer.echo(f"Its secret is in {file}. Keep a copy in a safe place, apart from the archives.", err=True)


def own_time_zone() -> str:
    """Return the time zone of this machine, by its name."""
    if ZONE_FILE.is_file():
        return ZONE_FILE.read_text("utf-8").strip()
    _, found, name = str(ZONE_LINK.resolve()).partition("/zoneinfo/")
    return name if found else "UTC"
