"""`claywit examiners`: how reliably each trait is read, from repeated readings."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from claywit.commands.arguments import AsJson, Seed
from claywit.commands.days import day_of
from claywit.errors import CasesError, did_you_mean

if TYPE_CHECKING:
    from datetime import date

    from claywit.learning.readings import Readings
    from claywit.model.schema import Model
    from claywit.records.rejects import Account
    from claywit.report.examined import Examined


def examiners(  # noqa: PLR0913, PLR0917 - one argument for each thing that can be said
    readings: Annotated[
        Path, typer.Argument(metavar="READINGS", help="Who read what on which piece (CSV).")
    ],
    model: Annotated[
        Path | None, typer.Argument(metavar="MODEL", help="The model with the traits (YAML).")
    ] = None,
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", metavar="NEW", help="MODEL with the reading matrices."),
    ] = None,
    ordered: Annotated[
        list[str] | None,
        typer.Option("--ordered", metavar="TRAIT", help="Its states have an order; may repeat."),
    ] = None,
    rejects: Annotated[
        Path | None,
        typer.Option("--rejects", metavar="FILE", help="Where lines go that cannot be used."),
    ] = None,
    prior: Annotated[
        float,
        typer.Option("--prior", min=0.01, max=100, help="Pieces of an even start in each row."),
    ] = 1.0,
    seed: Seed = 1,
    on: Annotated[
        str, typer.Option("--date", metavar="DATE", help="The day of the readings; today.")
    ] = "",
    as_json: AsJson = False,
) -> None:
    """Say how reliably each trait is read, and how each examiner errs.

    The states of a trait given as --ordered stand in the order of the model, else as numbers or
    by name; then near misses count as half, by weighted kappa. An examiner named `truth` gives
    what is known of a piece by other means.
    """
    from claywit.records import disk, files
    from claywit.records.readings import read_readings
    from claywit.records.rejects import Rejects
    from claywit.report.examined_text import show_examined

    if output and model is None:
        raise CasesError("-o writes a model; give the MODEL that it begins from")
    day = day_of(on)
    disk.refuse_over(rejects, *filter(None, (model,)))
    known = files.read_model(model) if model else None
    with Rejects(rejects) as refused:
        collected = read_readings(readings, known, refused)
    found = list(collected.traits())
    if not found:
        lost = "every line was rejected" if refused.account.rejected else "no readings"
        raise CasesError(f"{readings}: {lost}; write a line for each reading")
    answer = _examined(found, known, refused.account, ordered or [], seed, prior)
    said = ""
    try:
        if output and model:  # first, so that no answer speaks of a model that is not there
            said = _write(answer, model, output, day)
    finally:
        typer.echo(answer.model_dump_json(indent=2)) if as_json else show_examined(answer)
        if answer.rejected:
            typer.echo(f"{answer.read:,} lines read: {answer.rejected:,} rejected", err=True)
    if said:
        typer.echo(said, err=as_json)


def _examined(
    found: "list[Readings]",
    known: "Model | None",
    account: "Account",
    ordered: list[str],
    seed: int,
    prior: float,
) -> "Examined":
    from claywit.learning.examiners import examine
    from claywit.report.examined import CAUTIONS, Examined, trait_read

    names = [readings.trait for readings in found]
    for name in ordered:
        if name not in names:
            raise CasesError(f"--ordered {name}: nobody read it; {did_you_mean(name, names)}")
    traits = [
        examine(readings, seed=seed, prior=prior, ordered=readings.trait in ordered)
        for readings in found
    ]
    return Examined(
        seed=seed,
        prior=prior,
        read=account.read,
        used=account.used,
        rejected=account.rejected,
        traits=tuple(trait_read(trait, known) for trait in traits),
        cautions=CAUTIONS,
    )


def _write(answer: "Examined", model: Path, output: Path, day: "date") -> str:
    from claywit.learning.revision import Matrix, matrices
    from claywit.model.values import duplicates
    from claywit.records import files, revised
    from claywit.report.examined import rests_on

    names = [matrix.name for trait in answer.traits for matrix in trait.matrices]
    if twice := duplicates(names):
        raise CasesError(
            f"{output}: not written: two matrices would be called {twice[0]}; give an examiner"
            " another name in the file"
        )
    found = {
        matrix.name: Matrix(trait.trait, matrix.p, matrix.pieces)
        for trait in answer.traits
        for matrix in trait.matrices
    }
    if not found:
        raise CasesError(f"{output}: not written: no trait was read well enough for a matrix")
    known = files.read_model(model)
    made = revised.revise(model, output, matrices(known, found, rests_on(answer, day), on=day))
    count = f"{len(found)} reading matri{'ces' if len(found) != 1 else 'x'}"
    return f"{output}: version {made.version}, {count}"
