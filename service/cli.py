"""The commands. Nothing of the service is imported here at the top: each command opens its own room."""

import json
import sys
from typing import Annotated, Any

import typer

REFUSED = 2

app = typer.Typer(add_completion=False, no_args_is_help=True, pretty_exceptions_enable=False)


@app.callback()
def loambook() -> None:
    """Carry a soil-testing job for pressed earth blocks from the sack to the issued result."""


@app.command()
def work(
    name: Annotated[str | None, typer.Argument(help="Which calculation; --list names them.")] = None,
    names: Annotated[bool, typer.Option("--list", help="Name every calculation, one a line.")] = False,
    schema: Annotated[bool, typer.Option("--schema", help="Give the JSON Schema of the input.")] = False,
) -> None:
    """Answer one calculation: JSON on standard input, JSON on standard output."""
    from service.errors import Refusal
    from service.work import answering, registry

    if names:
        typer.echo("\n".join(registry.names()))
        return
    if name is None:
        raise typer.BadParameter("Say which calculation, or ask for --list.", param_hint="NAME")
    try:
        if schema:
            _print(registry.find(name).model.model_json_schema())
        else:
            _print(answering.answer_text(name, sys.stdin.buffer.read()))
    except Refusal as refusal:
        typer.echo(json.dumps({"error": refusal.sentence, "fields": refusal.fields}), err=True)
        raise typer.Exit(REFUSED) from None


def _print(answer: dict[str, Any]) -> None:
    typer.echo(json.dumps(answer, indent=2, allow_nan=False))


def main() -> None:
    """Run the command that was asked for."""
    app()


if __name__ == "__main__":
    main()
