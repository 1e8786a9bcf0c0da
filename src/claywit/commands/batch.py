"""`claywit batch`."""

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from claywit.batch.pools import RunAll
    from claywit.records.rejects import Account


QUICK, WHOLE = 10_000, 2_000  # pieces of a part, a few seconds of work


def batch(  # noqa: PLR0913, PLR0917 - one argument for each thing that can be said
    model: Annotated[Path, typer.Argument(metavar="MODEL", help="A model file (YAML).")],
    cases: Annotated[
        Path,
        typer.Argument(
            metavar="CASES", help="Pieces: a .csv, .jsonl or .parquet file, or a folder of them."
        ),
    ],
    output: Annotated[
        Path,
        typer.Option(
            "-o", "--output", metavar="OUT", help="A file of any of these kinds; or a folder."
        ),
    ],
    question: Annotated[
        str | None, typer.Option("--question", "-q", metavar="NODE", help="The node asked about.")
    ] = None,
    weigh: Annotated[
        list[str] | None,
        typer.Option(
            "--weigh", metavar="NODE", help="Evidence too, though it cannot be looked at."
        ),
    ] = None,
    quick: Annotated[
        bool, typer.Option("--quick", help="Posteriors alone: no weights, flags or next trait.")
    ] = False,
    without_next: Annotated[
        bool, typer.Option("--without-next", help="Leave out what to look at next.")
    ] = False,
    workers: Annotated[
        int, typer.Option("--workers", min=0, help="Processes; 0 for one a core.")
    ] = 0,
    scheduler: Annotated[
        str | None,
        typer.Option(
            "--scheduler", metavar="ADDRESS", help="Of a Dask cluster, as tcp://HOST:8786."
        ),
    ] = None,
) -> None:
    """Score a whole collection: one answer a piece, as `assess` would give it.

    Known truth in the file (class, period, workshop, mould) is set aside, not weighed. A batch
    that was stopped goes on where it was when the same command is given again.
    """
    from claywit.batch.run import Batch, run
    from claywit.batch.scorer import wanted
    from claywit.model.soundness import read_model
    from claywit.records.files import model_text

    text = model_text(model)
    known = read_model(text, str(model))
    asked = wanted(
        known, question, weigh or (), weights=not quick, looks=not quick and not without_next
    )
    task = Batch(known, text, str(model), cases, output, asked, QUICK if quick else WHOLE)
    with _pool(cases, workers, scheduler) as run_all, _progress() as told:
        finished = run(task, run_all, told)
    account = finished.account
    typer.echo(f"{account.said()}; written to {output}", err=True)
    if account.rejected:
        typer.echo(f"rejects: {finished.rejects}", err=True)
    if finished.again:
        typer.echo(f"{finished.again:,} ids stand in more than one file of {cases}", err=True)


def _pool(cases: Path, workers: int, scheduler: str | None) -> "AbstractContextManager[RunAll]":
    from claywit.batch import pools

    if scheduler:
        return pools.cluster(scheduler)
    count = workers or (os.cpu_count() or 1)
    # To start a process takes a second, as long as a few thousand pieces.
    small = cases.is_file() and cases.stat().st_size < 1_000_000
    return pools.here() if count == 1 or (small and not workers) else pools.processes(count)


@contextmanager
def _progress() -> "Iterator[Callable[[Account], None]]":
    """Yield what shows how far it is: on a terminal only."""
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console
    from rich.progress import Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

    shown = (SpinnerColumn(), TextColumn("{task.description}"), TimeElapsedColumn())
    with Progress(*shown, console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task("reading")
        yield lambda account: progress.update(task, description=account.said())
