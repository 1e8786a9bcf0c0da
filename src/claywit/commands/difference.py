"""`claywit diff`."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from claywit.commands.arguments import AsJson
from claywit.commands.giving import give

if TYPE_CHECKING:
    from claywit.inference.network import Network
    from claywit.model.renaming import Renamed
    from claywit.model.schema import Model
    from claywit.report.differing import Drifted


def diff(
    old: Annotated[Path, typer.Argument(metavar="OLD", help="A model file (YAML).")],
    new: Annotated[Path, typer.Argument(metavar="NEW", help="Another model, or a later one.")],
    cases: Annotated[
        Path | None,
        typer.Option("--cases", metavar="FILE", help="Pieces on which to see conclusions drift."),
    ] = None,
    rejects: Annotated[
        Path | None,
        typer.Option("--rejects", metavar="FILE", help="Where to note pieces that do not fit OLD."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Say what changed from one model to another, and how far answers can move by it.

    Exit status: 0 they say the same, 1 they differ, 2 one of them cannot be read.
    """
    from claywit.inference.network import compile_network
    from claywit.model.difference import changes
    from claywit.model.renaming import renamed, under_new_names
    from claywit.reasoning.distance import distance
    from claywit.records import disk, files
    from claywit.report import differing
    from claywit.report.differing_text import show_diff

    disk.refuse_over(rejects, old, new)
    before, after = files.read_model(old), files.read_model(new)
    names = renamed(before, after)
    networks = compile_network(under_new_names(before, names)), compile_network(after)
    drift = _drift(before, networks, names, (cases, rejects)) if cases else None
    answer = differing.diff(
        (before, after), changes(before, after, names), distance(*networks), drift
    )
    give(answer, show_diff, as_json=as_json)
    if answer.changes:
        raise typer.Exit(1)


def _drift(
    model: "Model",
    networks: tuple["Network", "Network"],
    names: "Renamed",
    where: tuple[Path, Path | None],
) -> "Drifted":
    """Return how conclusions drift on the pieces of a file, which *model* types."""
    from rich.console import Console
    from rich.progress import Progress

    from claywit.learning.drift import drift
    from claywit.records.cases import read_cases
    from claywit.records.rejects import Rejects
    from claywit.report.differing import drifted

    path, rejected = where
    bar = Progress(console=Console(stderr=True), disable=not sys.stderr.isatty(), transient=True)
    with Rejects(rejected) as noted, bar:
        task = bar.add_task("pieces weighed", total=None)
        blocks = read_cases(path, model, noted)
        found = drift(*networks, names, blocks, lambda done: bar.update(task, completed=done))
        account = noted.account
    return drifted(str(path), found, account.read, account.rejected)
