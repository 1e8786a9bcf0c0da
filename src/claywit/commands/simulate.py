"""`claywit simulate`."""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from claywit.commands.arguments import ModelFile, Seed
from claywit.errors import CasesError, did_you_mean

if TYPE_CHECKING:
    from claywit.evidence.cases import Cases
    from claywit.inference.network import Network
    from claywit.inference.rehearsal import Plan

BLOCK = 10_000


def simulate(  # noqa: PLR0913, PLR0917 - one argument for each thing that can be said
    model: ModelFile,
    output: Annotated[
        Path,
        typer.Option("-o", "--output", metavar="FILE", help="Ends in .csv, .jsonl or .parquet."),
    ],
    count: Annotated[int, typer.Option("-n", min=1, max=10**9, help="How many pieces.")] = 1000,
    seed: Seed = 1,
    missing: Annotated[
        float, typer.Option("--missing", min=0, max=1, help="The share of readings left out.")
    ] = 0.0,
    without: Annotated[
        list[str] | None,
        typer.Option("--without", metavar="NODE", help="Leave a column out; may be repeated."),
    ] = None,
    groups: Annotated[
        int,
        typer.Option(
            "--groups", min=0, max=10**6, help="From how many collections the pieces come."
        ),
    ] = 0,
) -> None:
    """Draw pieces from a model, the truth beside the traits, to rehearse what follows.

    They show how the tools behave. They say nothing of whether the model is right.
    """
    from claywit.inference.network import compile_network
    from claywit.inference.rehearsal import Plan
    from claywit.records import disk, files
    from claywit.records.writing import write_cases

    disk.refuse_existing(output)  # drawn pieces must never take the place of real ones
    known = files.read_model(model)
    for name in without or ():
        if name not in known.by_name:
            hint = did_you_mean(name, known.by_name)
            raise CasesError(f"--without {name}: no such node in the model; {hint}")
    plan = Plan(missing, frozenset(without or ()), groups)
    written = write_cases(output, _blocks(compile_network(known), plan, count, seed))
    typer.echo(f"{written:,} pieces written to {output}", err=True)


def _blocks(network: "Network", plan: "Plan", count: int, seed: int) -> Iterator["Cases"]:
    """Yield the pieces in blocks, each drawn from its own seed."""
    import numpy as np

    from claywit.inference.rehearsal import rehearse

    for first in range(0, count, BLOCK):
        rng = np.random.default_rng([seed, first])
        yield rehearse(network, plan, first + 1, min(BLOCK, count - first), rng)
