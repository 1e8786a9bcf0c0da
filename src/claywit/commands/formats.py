"""`claywit check` and `claywit schema`: whether a file is as it should be, and how that is."""

import json
from typing import Annotated

import typer

from claywit.commands.arguments import AsJson, ModelFile
from claywit.errors import ModelError


def check(model: ModelFile, as_json: AsJson = False) -> None:
    """Say whether a model is sound, and what could be better.

    Exit status: 0 nothing to say, 1 sound with faults, 2 unreadable or not sound.
    """
    from claywit.records import files
    from claywit.report.checked import checked

    try:
        sound, document = files.read_model_with_lines(model)
    except ModelError as error:
        if as_json:
            unsound = {
                "file": str(model),
                "sound": False,
                "problems": list(error.details) or [str(error)],
            }
            typer.echo(json.dumps(unsound, indent=2, ensure_ascii=False))
        elif len(error.details) > 1:
            typer.echo("\n".join(error.details))
        raise
    answer = checked(sound, document)
    typer.echo(answer.model_dump_json(indent=2) if as_json else answer.text())
    if answer.faults:
        raise typer.Exit(1)


def schema(
    kind: Annotated[
        str,
        typer.Argument(
            metavar="FORMAT",
            help="model, evidence, priors, report, contrast, next, joint, stories, diff,"
            " sensitivity, evaluation, scale, policy, sheet, seeds, elicited, examiners, fit,"
            " moulds, batch-row, batch-account, batch-part or batch-run.",
        ),
    ] = "model",
) -> None:
    """Print the JSON Schema of one of the file formats."""
    from claywit.report.schemas import json_schema

    typer.echo(json.dumps(json_schema(kind), indent=2))
