"""`claywit batch`."""

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING, Annotated

import typer

from claywit.commands.arguments import ModelFile, Question

if TYPE_CHECKING:
    from claywit.batch.pools import RunAll
    from claywit.batch.run import Finished, Progress


QUICK, WHOLE = 10_000, 2_000  # pieces of a part, a few seconds of work


def batch(  # noqa: PLR0913, PLR0917 - one argument for each thing that can be said
    model: ModelFile,
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
    question: Question = None,
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
    quiet: Annotated[bool, typer.Option("--quiet", help="Say nothing but errors.")] = False,
) -> None:
    """Score a whole collection: one answer a piece, as `assess` would give it.

    Known truth in the file (class, period, workshop, mould) is set aside, not weighed. A batch
    that was stopped goes on where it was when the same command is given again.
    """
    from claywit.batch.opening import read_text, refuse_too_large
    from claywit.batch.scorer import model_of, wanted

    text = read_text(model)
    known = model_of(text, str(model))
    asked = wanted(
        known, question, weigh or (), weights=not quick, looks=not quick and not without_next
    )
    # Before the rest is imported: what cannot be done is said at once.
    refuse_too_large(text, str(model), _first(cases), asked)
    from claywit.batch.about import Batch
    from claywit.batch.run import run

    task = Batch(known, text, str(model), cases, output, asked, QUICK if quick else WHOLE)
    with _pool(cases, workers, scheduler) as run_all, _progress(quiet=quiet) as told:
        finished = run(task, run_all, told)
    if not quiet:
        _tell(finished, cases, output)


def _first(cases: Path) -> Path:
    from claywit.records.kinds import partitions

    return partitions(cases)[0] if cases.is_dir() else cases


def _tell(finished: "Finished", cases: Path, output: Path) -> None:
    account = finished.account
    typer.echo(f"{account.said()}; written to {output}", err=True)
    if account.rejected:
        typer.echo(f"rejects: {finished.rejects}", err=True)
    if finished.again:
        typer.echo(f"{finished.again:,} ids stand in more than one file of {cases}", err=True)


def _pool(cases: Path, workers: int, scheduler: str | None) -> "AbstractContextManager[RunAll]":
    from claywit.batch import pools

    count = workers or (os.cpu_count() or 1)
    # To start a process takes a second, as long as a few thousand pieces.
    small = cases.is_file() and cases.stat().st_size < 1_000_000
    return pools.pool(1 if small and not workers else count, scheduler)


@contextmanager
def _progress(*, quiet: bool) -> "Iterator[Callable[[Progress], None]]":
    """Yield what shows how far it is: on a terminal only."""
    if quiet or not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, TaskProgressColumn, TextColumn
    from rich.progress import Progress as Bar

    columns = (BarColumn(20), TaskProgressColumn(), TextColumn("{task.description}"))
    with Bar(*columns, console=Console(stderr=True), transient=True) as bar:
        task, begun = bar.add_task("scoring the first pieces", total=1.0), monotonic()

        def told(progress: "Progress") -> None:
            said = how_far(progress, monotonic() - begun)
            bar.update(task, completed=progress.share, description=said)

        yield told


def how_far(progress: "Progress", seconds: float) -> str:
    """Return the pieces so far, how many a second, and the time left, after so many seconds."""
    account, (pieces, share) = progress.account, progress.new
    said = f"{account.read:,} pieces"
    if account.rejected:
        said += f", {account.rejected:,} rejected"
    if not pieces or seconds <= 0:
        return said
    left = max(0.0, 1 - progress.share) / share * seconds if share > 0 else 0.0
    return f"{said}, {pieces / seconds:,.0f} a second, {_clock(left)} left"


def _clock(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"
