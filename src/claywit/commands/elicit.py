"""`claywit elicit`: ask experts in counts of a hundred, and turn their ranges into rows."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from claywit.commands.arguments import AsJson, ModelFile
from claywit.commands.days import day_of

if TYPE_CHECKING:
    from claywit.learning.answers import Opinion, Party
    from claywit.model.schema import Model
    from claywit.report.elicited import Judged

app = typer.Typer(
    name="elicit",
    help="Ask experts in counts of a hundred, and turn their answers into rows of a model.",
    no_args_is_help=True,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)

SheetFile = Annotated[Path, typer.Argument(metavar="SHEET", help="A filled sheet (YAML or CSV).")]
SheetFiles = Annotated[
    list[Path], typer.Argument(metavar="SHEET...", help="Filled sheets, one an expert.")
]
SeedsFile = Annotated[
    Path | None,
    typer.Option("--seeds", metavar="FILE", help="Questions with known answers (YAML)."),
]


@app.command()
def sheet(  # noqa: PLR0913, PLR0917 - one argument for each thing that can be said
    model: ModelFile,
    output: Annotated[
        Path, typer.Option("--output", "-o", metavar="SHEET", help="A new file; .csv for a table.")
    ],
    node: Annotated[
        list[str] | None,
        typer.Option("--node", metavar="NODE", help="Ask about NODE only; may be repeated."),
    ] = None,
    expert: Annotated[str, typer.Option("--expert", metavar="NAME", help="For whom it is.")] = "",
    seeds: SeedsFile = None,
    all_states: Annotated[
        bool, typer.Option("--all-states", help="Ask about what the model excludes as well.")
    ] = False,
    html: Annotated[
        Path | None, typer.Option("--html", metavar="FILE", help="Write it to be printed as well.")
    ] = None,
) -> None:
    """Write a sheet of questions about MODEL for an expert to fill in.

    Each row of a table is one question: of 100 pieces, how many. The sheet shows none of the
    numbers of the model.
    """
    from claywit.learning.asking import questions
    from claywit.learning.blank import Blank
    from claywit.records import disk, files, sheets
    from claywit.report.digest import digest

    disk.refuse_existing(output)
    disk.refuse_over(html, model, *([seeds] if seeds else []))
    known = files.read_model(model)
    asked = questions(known, node or (), all_states=all_states)
    told = sheets.read_seeds(seeds) if seeds else None
    blank = Blank(known, digest(known), asked, told, expert)
    if html:
        from claywit.report.sheet_page import sheet_page

        files.write_text(html, sheet_page(blank))
    sheets.write_blank(output, blank)  # last, since it is never written over
    typer.echo(f"{output}: {_questions(len(asked), len(told.seeds) if told else 0)}")
    if html:
        typer.echo(f"{html}: the same, to be printed")


def _questions(rows: int, seeds: int) -> str:
    more = f", {seeds} with a known answer" if seeds else ""
    return f"{rows} question{'s' if rows != 1 else ''}{more}"


@app.command()
def review(model: ModelFile, sheet: SheetFile, as_json: AsJson = False) -> None:
    """Say what a filled SHEET amounts to, so that its expert can revise it.

    The numbers of the model are not shown: they would pull the expert's own.
    """
    from claywit.learning.opinions import fit_rows
    from claywit.records import files, sheets
    from claywit.report.elicited import elicited
    from claywit.report.elicited_text import show_elicited

    known, party = files.read_model(model), sheets.read_party(sheet)
    opinions = _opinions(known, [party])
    weights = {party.name: 1.0}
    answer = elicited(known, opinions, fit_rows(opinions, weights), weights)
    if as_json:
        typer.echo(answer.model_dump_json(indent=2))
    else:
        show_elicited(answer, review=True)


@app.command()
def fit(  # noqa: PLR0913, PLR0917 - one argument for each thing that can be said
    model: ModelFile,
    sheet: SheetFiles,
    output: Annotated[
        Path, typer.Option("--output", "-o", metavar="NEW", help="Where the new model goes.")
    ],
    seeds: SeedsFile = None,
    cutoff: Annotated[
        float | None,
        typer.Option(
            min=0, max=1, help="Calibration below which an expert has no weight; best by default."
        ),
    ] = None,
    on: Annotated[
        str, typer.Option("--date", metavar="DATE", help="The day of the elicitation; today.")
    ] = "",
    as_json: AsJson = False,
) -> None:
    """Put the answers of one or several SHEETs into MODEL, and write NEW.

    Several experts weigh the same; with --seeds each by how well his ranges held known answers,
    by Cooke's classical model. Rows that nobody answered stay as they are, and so do comments.
    """
    from claywit.learning.opinions import fit_rows
    from claywit.learning.revision import revision
    from claywit.records import files, revised, sheets
    from claywit.report.elicited import elicited
    from claywit.report.elicited_text import show_elicited

    day = day_of(on)
    known, panel = files.read_model(model), sheets.read_panel(sheet)
    opinions = _opinions(known, panel)
    weights, judged = _weigh(panel, seeds, cutoff)
    rows = fit_rows(opinions, weights)
    answer = elicited(known, opinions, rows, weights, judged)
    changes = revision(known, rows, weights, on=day, seeds=len(judged[1]) if judged else 0)
    made = revised.revise(model, output, changes)
    if as_json:
        typer.echo(answer.model_dump_json(indent=2))
    else:
        show_elicited(answer)
    typer.echo(f"{output}: version {made.version}, {_rows(len(rows))} elicited", err=as_json)


def _opinions(model: "Model", panel: "list[Party]") -> "list[Opinion]":
    from claywit.errors import SheetError
    from claywit.learning.answers import opinions_of

    try:
        return [opinion for party in panel for opinion in opinions_of(model, party)]
    except SheetError as wrong:
        if len(wrong.details) > 1:
            typer.echo("\n".join(wrong.details))
        raise


def _weigh(
    panel: "list[Party]", seeds: Path | None, cutoff: float | None
) -> "tuple[dict[str, float], Judged | None]":
    from claywit.errors import SheetError
    from claywit.learning.cooke import weigh_experts, weights_without_one
    from claywit.learning.opinions import seeds_of
    from claywit.records import sheets

    names = [party.name for party in panel]
    if seeds is None:
        if cutoff is not None:
            raise SheetError("--cutoff goes with --seeds, which says how well each expert did")
        return dict.fromkeys(names, 1 / len(names)), None
    known = seeds_of(panel, sheets.read_seeds(seeds))
    try:
        weighing = weigh_experts(known, cutoff)
    except ValueError as wrong:
        raise SheetError(f"--cutoff: {wrong}; give a lower one, or none") from None
    return dict(zip(names, weighing.weights.tolist(), strict=True)), (
        weighing,
        weights_without_one(known),
    )


def _rows(count: int) -> str:
    return f"{count} row{'s' if count != 1 else ''}"
