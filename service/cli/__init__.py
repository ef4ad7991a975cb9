"""The commands. Nothing of the service is imported here at the top: each command opens its own room."""

from __future__ import annotations

import json
import sys
from typing import Annotated, Any

import typer

from service import __version__
from service.cli import example, rescue, shop, tables, upkeep

REFUSED = 2

app = typer.Typer(add_completion=False, no_args_is_help=True, pretty_exceptions_enable=False, rich_markup_mode=None)


def _tell_version(asked: bool) -> None:
    if asked:
        typer.echo(f"Loambook {__version__}")
        raise typer.Exit


@app.callback()
def loambook(
    version: Annotated[
        bool, typer.Option("--version", callback=_tell_version, is_eager=True, help="Say which version this is.")
    ] = False,
) -> None:
    """Run a soil-testing shop for pressed earth blocks, from the sack to the issued result."""


@app.command()
def work(
    name: Annotated[str | None, typer.Argument(help="Which calculation; --list names them.")] = None,
    names: Annotated[bool, typer.Option("--list", help="Name every calculation, one a line.")] = False,
    schema: Annotated[bool, typer.Option("--schema", help="Give the JSON Schema of the input.")] = False,
    example: Annotated[bool, typer.Option("--example", help="Give an input that works, to change.")] = False,
) -> None:
    """Work out one calculation: JSON on standard input, JSON on standard output."""
    from service.errors import Refusal
    from service.work import answering, registry

    if names:
        typer.echo("\n".join(registry.names()))
        return
    if name is None:
        raise typer.BadParameter("Say which calculation, or ask for --list.", param_hint="NAME")
    try:
        calculation = registry.find(name)
        if schema:
            _print(calculation.model.model_json_schema())
        elif example:
            from service.work.examples import EXAMPLES

            _print(EXAMPLES[name])
        else:
            _print(answering.answer_text(name, sys.stdin.buffer.read()))
    except Refusal as refusal:
        typer.echo(json.dumps({"error": refusal.sentence, "fields": refusal.fields}), err=True)
        raise typer.Exit(REFUSED) from None


def _print(answer: dict[str, Any]) -> None:
    typer.echo(json.dumps(answer, indent=2, allow_nan=False))


app.command()(example.demo)
app.command("open")(shop.open_shop)
app.command()(shop.serve)
app.command()(shop.migrate)
app.command()(rescue.let_in)
app.command()(rescue.reset)
app.command()(upkeep.checkup)
app.command()(upkeep.mail)
app.command()(upkeep.archive)
app.command()(upkeep.restore)
app.command()(tables.export)
app.command("import")(tables.import_readings)
app.command()(upkeep.log)
# What it was called before.
app.command("trail", hidden=True)(upkeep.log)


def main() -> None:
    """Run the command that was asked for."""
    app()


if __name__ == "__main__":
    main()
