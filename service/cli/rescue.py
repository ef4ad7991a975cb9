"""The commands that let somebody in when nobody else of the shop can; each opens its own room, as those of the cli."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from service.cli.installation import as_owner, read_settings, stop

if TYPE_CHECKING:
    from collections.abc import Callable

    from service.desk.doorway import Caller, Done

Email = Annotated[str, typer.Argument(help="The e-mail address that a person signs in with.")]


def let_in(email: Email) -> None:
    """Print a sign-in link that works once; the password stays as it is."""
    from service.desk import people

    _give(lambda caller, token_sha256: people.make_address_by_command(caller, email=email, token_sha256=token_sha256))


def reset(
    email: Email,
    owner: Annotated[str, typer.Option(help="Make this person an owner; the name is used if the address is new.")] = "",
) -> None:
    """Reset a person's access and print a sign-in link."""
    from service.desk import people

    if owner:
        _give(
            lambda caller, token_sha256: people.make_owner_by_command(
                caller, name=owner, email=email, token_sha256=token_sha256
            )
        )
    else:
        _give(lambda caller, token_sha256: people.reset_by_command(caller, email=email, token_sha256=token_sha256))


def _give(make: Callable[[Caller, str], Done]) -> None:
    from secrets import token_urlsafe

    from service.errors import Refusal
    from service.web.authentication import sha256

    settings, token = read_settings(), token_urlsafe(32)
    try:
        with as_owner(settings) as caller:
            make(caller, sha256(token))
    except Refusal as refusal:
        stop(" ".join([refusal.sentence, *refusal.fields.values()]))
    typer.echo(f"{settings.address}/sign-in/{token}")
