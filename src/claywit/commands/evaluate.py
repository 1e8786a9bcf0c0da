"""`claywit evaluate`."""

import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from claywit.commands.arguments import AsJson, Html, ModelFile, Question, RejectsFile
from claywit.commands.giving import give

MOST_PIECES = 1_000_000

if TYPE_CHECKING:
    from claywit.learning.crossvalidation import RunAll
    from claywit.learning.folds import Fold
    from claywit.learning.scoring import Scored


def evaluate(  # noqa: PLR0913, PLR0917 - one argument for each thing that can be said
    model: ModelFile,
    cases: Annotated[
        Path, typer.Argument(metavar="CASES", help="Pieces of known truth: CSV, JSONL or Parquet.")
    ],
    question: Question = None,
    for_: Annotated[
        str | None,
        typer.Option("--for", metavar="PROPOSITION", help="Whose LRs are judged, as mould=M04."),
    ] = None,
    against: Annotated[
        str | None, typer.Option("--against", metavar="PROPOSITION", help="As mould=M05|M12.")
    ] = None,
    folds: Annotated[
        int | None,
        typer.Option(
            "--folds", min=2, metavar="K", help="Learn on the rest, judge each K-th part."
        ),
    ] = None,
    by_group: Annotated[
        bool, typer.Option("--by-group", help="The same, with each group of pieces as a part.")
    ] = False,
    one_out: Annotated[
        bool, typer.Option("--one-out", help="The same, with each single source as a part.")
    ] = False,
    rejects: RejectsFile = None,
    html: Html = None,
    figures: Annotated[
        Path | None,
        typer.Option("--figures", metavar="FILE", help="Write them for `certify --evaluation`."),
    ] = None,
    seed: Annotated[
        int, typer.Option("--seed", min=0, help="Of the parts and bands that are drawn.")
    ] = 1,
    workers: Annotated[
        int, typer.Option("--workers", min=1, help="Processes that the parts are shared among.")
    ] = 1,
    scheduler: Annotated[
        str | None,
        typer.Option("--scheduler", metavar="ADDRESS", help="Of a Dask cluster that does them."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Measure a model on pieces whose truth is known, and say what that can support."""
    from claywit.errors import CasesError
    from claywit.evidence.cases import joined
    from claywit.measuring import Origin, Plan, measure
    from claywit.records import disk, files
    from claywit.records.cases import read_cases
    from claywit.records.rejects import Rejects
    from claywit.report.digest import canonical_json
    from claywit.report.evaluated_page import evaluation_page
    from claywit.report.evaluated_text import show_evaluation

    for output in (rejects, figures, html):
        disk.refuse_over(output, model, cases)
    known = files.read_model(model)
    with Rejects(rejects) as noted:
        pieces = joined(known, read_cases(cases, known, noted), most=MOST_PIECES)
    if not len(pieces):
        raise CasesError(f"{cases}: holds no piece that can be used")
    origin = Origin(disk.digest_of(cases, CasesError), noted.account.rejected)
    plan = Plan(question, for_, against, folds, by_group, one_out, seed)
    with _pool(workers, scheduler) as pool, _progress() as tell:
        run_all = _told(pool, tell)
        found = measure(known, pieces, plan, origin=origin, run_all=run_all)
    page, numbers = (html, "page", evaluation_page), (figures, "figures", canonical_json)
    give(found, show_evaluation, page, numbers, as_json=as_json)


def _pool(workers: int, scheduler: str | None) -> "AbstractContextManager[RunAll]":
    from claywit.batch.pools import pool

    return pool(workers, scheduler)


def _told(run_all: "RunAll", tell: Callable[[int, int], None]) -> "RunAll":
    """Return *run_all*, telling after each part how many are done, of how many."""

    def told(work: "Callable[[Fold], Scored]", folds: "Iterable[Fold]", /) -> "Iterator[Scored]":
        parts = list(folds)
        for done, scored in enumerate(run_all(work, parts), 1):
            tell(done, len(parts))
            yield scored

    return told


@contextmanager
def _progress() -> Iterator[Callable[[int, int], None]]:
    """Yield what shows how far it is: on a terminal only."""
    if not sys.stderr.isatty():
        yield lambda _done, _all: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TimeRemainingColumn

    columns = ("learning, judging", BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=None)
        yield lambda done, count: bar.update(task, completed=done, total=count)
