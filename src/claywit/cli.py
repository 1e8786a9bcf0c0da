"""The command line: arguments, one call, a printed answer, an exit status.

Modules that take long to import are imported inside the commands, so that `--help` is
there at once.
"""

import json
import sys
from contextlib import suppress
from io import TextIOWrapper
from pathlib import Path
from typing import Annotated

import typer

from claywit import __version__
from claywit.commands import (
    batch,
    certificates,
    difference,
    evaluate,
    exchange,
    fit,
    moulds,
    simulate,
)
from claywit.commands import keys as keys_command
from claywit.commands.bench import bench
from claywit.commands.casebook_standing import app as casebook
from claywit.commands.elicit import app as elicit
from claywit.commands.endings import Commands, end_on_termination, printed
from claywit.commands.examiners import examiners
from claywit.commands.shown import refuse_steering, show_warnings
from claywit.errors import ClaywitError, ModelError

app = typer.Typer(
    name="claywit",
    cls=Commands,
    help="From what is seen through the lens to an explained attribution.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,  # plain help needs no import of rich, and is there in a blink
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)

app.add_typer(casebook)
app.add_typer(elicit)

ModelFile = Annotated[Path, typer.Argument(metavar="MODEL", help="A model file (YAML).")]
EvidenceFile = Annotated[Path, typer.Argument(metavar="EVIDENCE", help="An evidence file (YAML).")]
Html = Annotated[
    Path | None, typer.Option("--html", metavar="FILE", help="Write a page to FILE as well.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Print the answer as JSON.")]


def _version(wanted: bool) -> None:  # noqa: FBT001 - typer's callback form
    if wanted:
        typer.echo(f"claywit {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    pass


@app.command()
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


Question = Annotated[
    str | None, typer.Option("--question", "-q", metavar="NODE", help="The node asked about.")
]
For = Annotated[
    str | None, typer.Option("--for", metavar="PROPOSITION", help="As mould=M04,class=C1.")
]
Against = Annotated[
    str | None, typer.Option("--against", metavar="PROPOSITION", help="As period=P1|P2.")
]


@app.command()
def assess(  # noqa: PLR0913, PLR0917 - one argument for each thing that can be said
    model: ModelFile,
    evidence: EvidenceFile,
    question: Question = None,
    for_: For = None,
    against: Against = None,
    html: Html = None,
    seed: Annotated[int, typer.Option("--seed", min=0, help="Of the numbers that are drawn.")] = 1,
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
    from claywit.batch.pools import pool
    from claywit.records import files

    read, examined = files.read_piece(model, evidence)
    asked, named = assessment.ask(read, examined, question, for_, against)
    standards = files.read_standards()
    drawn = None if quick else seed
    with pool(workers, scheduler) as run_all:
        report = assessment.assess(read, asked, standards, named=named, seed=drawn, run_all=run_all)
    if html:
        from claywit.report.page import page

        files.write_text(html, page(report))
    if as_json:
        typer.echo(report.model_dump_json(by_alias=True, indent=2))
    else:
        from claywit.report.terminal import show

        show(report)
    if html:
        typer.echo(f"page written to {html}", err=True)


@app.command()
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
    from claywit.records import files

    read, examined = files.read_piece(model, evidence)
    asked, named = assessment.ask(read, examined, question, for_, against)
    answer = assessment.compare(read, asked, files.read_scale(), named=named)
    if html:
        from claywit.report.page import contrast_page

        files.write_text(html, contrast_page(answer))
    if as_json:
        typer.echo(answer.model_dump_json(by_alias=True, indent=2))
    else:
        from claywit.report.answers import show_contrast

        show_contrast(answer)
    if html:
        typer.echo(f"page written to {html}", err=True)


@app.command(name="next")
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

    read, examined = files.read_piece(model, evidence)
    asked, _ = assessment.ask(read, examined, question, None, None)
    answer = assessment.look_next(read, asked, files.read_policy(), risk=risk)
    if as_json:
        typer.echo(answer.model_dump_json(by_alias=True, indent=2))
    else:
        from claywit.report.answers import show_next

        show_next(answer)


app.command()(certificates.certify)
app.command()(certificates.verify)
app.command()(simulate.simulate)
app.command()(examiners)
app.command()(exchange.convert)
app.command(name="diff")(difference.diff)
app.command()(fit.fit)
app.command()(moulds.moulds)
app.command()(batch.batch)
app.command()(evaluate.evaluate)


@app.command()
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

    read, examined = files.read_piece(model, evidence)
    asked, named = assessment.ask(read, examined, question, for_, against)
    answer = assessment.what_if(read, asked, number or [], named=named)
    if as_json:
        typer.echo(answer.model_dump_json(by_alias=True, indent=2))
    else:
        from claywit.report.answers import show_sensitivity

        show_sensitivity(answer)


@app.command()
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
    from claywit.records import files

    one, other = files.read_parties(model, a, b, priors_b=priors_b, model_b=model_b)
    answer = assessment.joint(
        one, other, files.read_policy(), asked=(question, for_, against), weight=weight
    )
    if html:
        from claywit.report.joint_page import joint_page

        files.write_text(html, joint_page(answer))
    if as_json:
        typer.echo(answer.model_dump_json(by_alias=True, indent=2))
    else:
        from claywit.report.joint_text import show_joint

        show_joint(answer)
    if html:
        typer.echo(f"page written to {html}", err=True)


@app.command()
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

    read, examined = files.read_piece(model, evidence)
    named = [name.strip() for name in about.split(",") if name.strip()]
    answer = assessment.tell_stories(read, examined, about=named, best=best)
    if as_json:
        typer.echo(answer.model_dump_json(by_alias=True, indent=2))
    else:
        from claywit.report.told_text import show_stories

        show_stories(answer)


@app.command()
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


app.add_typer(keys_command.app)
app.command()(bench)


def main() -> None:
    """Run the command line; an expected error is one line and exit status 2."""
    end_on_termination()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="replace")  # a terminal without − and ‰ still gets an answer
    show_warnings()
    try:
        refuse_steering(sys.argv[1:])
        with printed():
            app()
    except ClaywitError as error:
        with suppress(OSError):
            typer.echo(f"error: {error}", err=True)
        sys.exit(2)
