"""`claywit fit`."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from math import log
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from claywit.commands.arguments import AsJson, ModelFile, RejectsFile
from claywit.errors import CasesError, ModelError

if TYPE_CHECKING:
    from claywit.evidence.cases import Cases
    from claywit.learning.fit import Fit, Progress
    from claywit.model.schema import Model
    from claywit.records.rejects import Rejects

WORKERS = 2


def fit(  # noqa: PLR0913, PLR0917 - one argument for each thing that can be said
    model: ModelFile,
    cases: Annotated[
        Path, typer.Argument(metavar="CASES", help="Pieces of known origin: .csv, .jsonl, .parquet")
    ],
    output: Annotated[
        Path, typer.Option("--output", "-o", metavar="NEW", help="Where the new model goes.")
    ],
    rejects: RejectsFile = None,
    as_counted: Annotated[
        bool,
        typer.Option("--as-counted", help="Leave 'not in the file' as counted, without coverage."),
    ] = False,
    again: Annotated[
        bool, typer.Option("--again", help="Count a file that the model has counted before.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Move a model's numbers by what a reference file shows, and say what each now rests on."""
    from claywit.evidence.cases import joined
    from claywit.inference.rehearsal import drawn_among
    from claywit.learning.fit import MOST_PIECES, Terms
    from claywit.learning.fit import fit as learn
    from claywit.learning.refit import refitted
    from claywit.learning.strays import strays
    from claywit.model.lint import lint
    from claywit.model.soundness import read_model
    from claywit.model.source import MAX_BYTES
    from claywit.records import disk
    from claywit.records.cases import read_cases
    from claywit.records.rejects import Rejects
    from claywit.report.fitted import Account, fitted

    disk.refuse_existing(output)
    disk.refuse_over(rejects, model)
    text = disk.read_whole(model, MAX_BYTES)
    known = read_model(text, str(model))
    digest = disk.digest_of(cases, CasesError)
    if not again:
        _refuse_twice(known, cases, digest)
    with Rejects(rejects) as noted:
        read = joined(known, read_cases(cases, known, noted), most=MOST_PIECES)
        if not len(read):
            raise CasesError(f"{cases}: no piece that can be used")
        with _progress() as tell:
            found = learn(known, read, Terms(workers=WORKERS), tell)
        _refuse_impossible(found, read, cases, noted)
        account = noted.account
    used = read.take(found.used.nonzero()[0])
    new = refitted(
        text.decode("utf-8-sig"), found, used, (cases.name, digest), floor=not as_counted
    )
    sound = read_model(new.text.encode(), str(output))
    disk.write_new(output, new.text.encode())
    answer = fitted(
        found,
        new,
        strays(found, read),
        Account(
            cases.name,
            digest,
            account.read,
            account.rejected,
            sound.version,
            sound.status,
            len(lint(sound)),
            drawn_among(used.names),
        ),
    )
    typer.echo(answer.model_dump_json(indent=2) if as_json else answer.text())
    typer.echo(f"model written to {output}", err=True)


def _refuse_twice(model: "Model", cases: Path, digest: str) -> None:
    for file in model.reference.files:
        if file.digest == digest:
            raise ModelError(
                f"{cases}: the model has counted this very file ({file.name}) already; counting it"
                " again would make it surer of nothing new; start from the model before,"
                " or say --again"
            )


def _refuse_impossible(found: "Fit", read: "Cases", cases: Path, noted: "Rejects") -> None:
    """Note the pieces that run into a structural zero, each with that zero."""
    from claywit.learning.zeros import why_impossible

    network = found.start.numbers.network
    for before, row in enumerate((~found.used).nonzero()[0].tolist()):
        noted.refuse(cases, read, row, why_impossible(network, read.findings(row), before))


@contextmanager
def _progress() -> Iterator["Progress | None"]:
    """Yield what shows how a fit gets on, on a terminal only."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    from claywit.learning.fit import ENOUGH

    columns = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("fitting", total=1.0)
        gains: list[float] = []

        def tell(number: int, gain: float) -> None:
            gains.append(max(gain, ENOUGH))
            first = max(gains[0], 2 * ENOUGH)
            way = log(first / min(gains)) / log(first / ENOUGH)
            bar.update(task, completed=way, description=f"round {number}, gain {gain:.1e}")

        yield tell
