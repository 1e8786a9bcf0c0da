"""Commands that answer of one piece, or of two readings of it."""

from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from claywit.commands.arguments import (
    Against,
    AsJson,
    EvidenceFile,
    For,
    Html,
    ModelFile,
    Question,
    Seed,
)
from claywit.commands.giving import give

if TYPE_CHECKING:
    from claywit.reasoning.uncertainty import RunAll


def assess(  # noqa: PLR0913, PLR0917 - one argument for each thing that can be said
    model: ModelFile,
    evidence: EvidenceFile,
    question: Question = None,
    for_: For = None,
    against: Against = None,
    html: Html = None,
    seed: Seed = 1,
    quick: Annotated[
        bool, typer.Option("--quick", help="Leave out what draws numbers: intervals, typicality.")
    ] = False,
    workers: Annotated[
        int, typer.Option("--workers", min=1, help="Processes that draw the numbers.")
    ] = 1,
    scheduler: Annotated[
        str | None,
        typer.Option("--scheduler", metavar="ADDRESS", help="Of a Dask cluster that draws them."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Say what a piece is, how sure that is, because of what, and how far to trust it."""
    from claywit import assessment
    from claywit.records import disk, files
    from claywit.report.page import page
    from claywit.report.terminal import show

    disk.refuse_over(html, model, evidence)
    read, examined = files.read_piece(model, evidence)
    asked, named = assessment.ask(read, examined, question, for_, against)
    standards = files.read_standards()
    drawn = None if quick else seed
    with _pool(workers, scheduler) as run_all:
        report = assessment.assess(read, asked, standards, named=named, seed=drawn, run_all=run_all)
    give(report, show, (html, "page", page), as_json=as_json)


def _pool(workers: int, scheduler: str | None) -> "AbstractContextManager[RunAll]":
    if workers == 1 and not scheduler:
        return nullcontext(map)  # what starts processes takes its time to import
    from claywit.batch.pools import pool

    return pool(workers, scheduler)


def contrast(  # noqa: PLR0913, PLR0917 - one argument for each thing that can be said
    model: ModelFile,
    evidence: EvidenceFile,
    question: Question = None,
    for_: For = None,
    against: Against = None,
    html: Html = None,
    as_json: AsJson = False,
) -> None:
    """Set two attributions side by side, and say what would flip them."""
    from claywit import assessment
    from claywit.records import disk, files
    from claywit.report.answers import show_contrast
    from claywit.report.page import contrast_page

    disk.refuse_over(html, model, evidence)
    read, examined = files.read_piece(model, evidence)
    asked, named = assessment.ask(read, examined, question, for_, against)
    answer = assessment.compare(read, asked, files.read_scale(), named=named)
    give(answer, show_contrast, (html, "page", contrast_page), as_json=as_json)


def look_next(
    model: ModelFile,
    evidence: EvidenceFile,
    question: Question = None,
    risk: Annotated[
        float, typer.Option("--risk", min=0, max=1, help="Leave out traits of a higher risk.")
    ] = 1.0,
    as_json: AsJson = False,
) -> None:
    """Say what to look at next, and what that would be worth."""
    from claywit import assessment
    from claywit.records import files
    from claywit.report.answers import show_next

    read, examined = files.read_piece(model, evidence)
    asked, _ = assessment.ask(read, examined, question, None, None)
    answer = assessment.look_next(read, asked, files.read_policy(), risk=risk)
    give(answer, show_next, as_json=as_json)


def sensitivity(  # noqa: PLR0913, PLR0917 - one argument for each thing that can be said
    model: ModelFile,
    evidence: EvidenceFile,
    number: Annotated[
        list[str] | None,
        typer.Option("--number", metavar="NUMBER", help="As shell=present,paste=A; up to two."),
    ] = None,
    question: Question = None,
    for_: For = None,
    against: Against = None,
    as_json: AsJson = False,
) -> None:
    """Say which numbers of the model the answer owes most to, and what would turn it."""
    from claywit import assessment
    from claywit.records import files
    from claywit.report.answers import show_sensitivity

    read, examined = files.read_piece(model, evidence)
    asked, named = assessment.ask(read, examined, question, for_, against)
    answer = assessment.what_if(read, asked, number or [], named=named)
    give(answer, show_sensitivity, as_json=as_json)


def joint(  # noqa: PLR0913, PLR0917 - one argument for each thing that can be said
    model: ModelFile,
    a: Annotated[Path, typer.Argument(metavar="A", help="One examiner's evidence file (YAML).")],
    b: Annotated[Path | None, typer.Argument(metavar="B", help="The other examiner's.")] = None,
    priors_b: Annotated[Path | None, typer.Option(help="Other priors for B (YAML).")] = None,
    model_b: Annotated[Path | None, typer.Option(help="Another model for B (YAML).")] = None,
    weight: Annotated[float, typer.Option(min=0, max=1, help="A's weight in the pools.")] = 0.5,
    question: Question = None,
    for_: For = None,
    against: Against = None,
    html: Html = None,
    as_json: AsJson = False,
) -> None:
    """Say where two examiners differ, and what would settle it."""
    from claywit import assessment
    from claywit.records import disk, files
    from claywit.report.joint_page import joint_page
    from claywit.report.joint_text import show_joint

    disk.refuse_over(html, *filter(None, (model, a, b, priors_b, model_b)))
    one, other = files.read_parties(model, a, b, priors_b=priors_b, model_b=model_b)
    answer = assessment.joint(
        one, other, files.read_policy(), asked=(question, for_, against), weight=weight
    )
    give(answer, show_joint, (html, "page", joint_page), as_json=as_json)


def stories(
    model: ModelFile,
    evidence: EvidenceFile,
    best: Annotated[int, typer.Option(min=1, max=50, help="How many stories to tell.")] = 5,
    about: Annotated[str, typer.Option(metavar="NODES", help="As period,mould.")] = "",
    as_json: AsJson = False,
) -> None:
    """Tell the likeliest whole stories of a piece."""
    from claywit import assessment
    from claywit.records import files
    from claywit.report.told_text import show_stories

    read, examined = files.read_piece(model, evidence)
    named = [name.strip() for name in about.split(",") if name.strip()]
    answer = assessment.tell_stories(read, examined, about=named, best=best)
    give(answer, show_stories, as_json=as_json)
