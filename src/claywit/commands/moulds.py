"""`claywit moulds`."""

from pathlib import Path
from typing import Annotated

import typer

from claywit.commands.arguments import AsJson
from claywit.errors import CasesError, did_you_mean


def moulds(
    counts: Annotated[
        Path,
        typer.Argument(metavar="CASES_OR_COUNTS", help="Pieces, or moulds with their `pieces`."),
    ],
    node: Annotated[
        str, typer.Option("--node", metavar="NODE", help="The column that names the mould.")
    ] = "mould",
    apart: Annotated[
        list[str] | None,
        typer.Option("--apart", metavar="STATE", help="No single mould, as M00; may be repeated."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Say how many moulds there were, as a range, and how much of their work a file covers."""
    from claywit.learning.moulds import sightings
    from claywit.records.tallies import tally
    from claywit.report.counted import counted

    found = tally(counts, node)
    for name in apart or ():
        if name not in found:
            raise CasesError(f"--apart {name}: no piece has it; {did_you_mean(name, found)}")
    left = sum(found.pop(name) for name in dict.fromkeys(apart or ()))
    if not sum(found.values()):
        raise CasesError(f"{counts}: no piece of a named mould is left to count")
    answer = counted(node, sightings(found.values()), left)
    typer.echo(answer.model_dump_json(indent=2) if as_json else answer.text())
