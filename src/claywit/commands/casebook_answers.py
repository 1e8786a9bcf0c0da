"""`claywit casebook`: the commands that print an answer."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from claywit.commands.arguments import Against, AsJson, For, ModelFile, Question
from claywit.commands.casebook import BOOK, Book, CaseName, NewFile, app, now
from claywit.commands.giving import give

if TYPE_CHECKING:
    from claywit.model.schema import Model
    from claywit.records.log import Head
    from claywit.triage import Candidate

__all__ = ["app"]


@app.command(name="list")
def list_cases(casebook: Book = BOOK, as_json: AsJson = False) -> None:
    """List all cases, and how far each has come."""
    from claywit.records import opening
    from claywit.records.case import read_cases
    from claywit.records.telling import line_of, lines_said

    with opening.opened(casebook) as kept, kept.reading():
        lines = [line_of(case) for case in read_cases(kept)]
    if as_json:
        typer.echo(json.dumps([line.model_dump() for line in lines], indent=2, ensure_ascii=False))
    else:
        typer.echo(lines_said(lines))


@app.command()
def show(case: CaseName, casebook: Book = BOOK, as_json: AsJson = False) -> None:
    """Show all that may be shown of a case."""
    from claywit.records import opening
    from claywit.records.case import read_case
    from claywit.records.telling import told

    with opening.opened(casebook) as kept, kept.reading():
        found = told(read_case(kept, case))
    typer.echo(found.model_dump_json(indent=2) if as_json else found.text())


@app.command()
def log(
    case: Annotated[str | None, typer.Argument(metavar="[CASE]")] = None,
    casebook: Book = BOOK,
    as_json: AsJson = False,
) -> None:
    """Print the log, of one case or of all."""
    from claywit.records import opening
    from claywit.records.case import read_case, read_entry_of
    from claywit.records.log import entries_as_data

    with opening.opened(casebook) as kept, kept.reading():
        if case is not None:
            read_case(kept, case)
        entries = [read_entry_of(kept, *row) for row in kept.rows(case)]
    if as_json:
        typer.echo(entries_as_data(entries))
        return
    for entry in entries:
        line = f"{entry.sequence:5}  {entry.time}  {entry.kind:12}  {entry.subject[:12]}"
        typer.echo(f"{line}  {entry.case}".rstrip())


@app.command()
def check(
    head: Annotated[
        str | None,
        typer.Option(
            "--head",
            metavar="HEAD",
            help="LENGTH:HASH that was kept outside, or a file that holds it, as a certificate.",
        ),
    ] = None,
    casebook: Book = BOOK,
    as_json: AsJson = False,
) -> None:
    """Say whether the casebook is whole.

    Nothing altered, moved, put in or taken out; and with --head, nothing cut off its end.

    Exit status: 0 whole, 1 not whole, 2 unreadable.
    """
    from claywit.records import opening
    from claywit.records.checking import check as look

    outside = None if head is None else _outside(head)
    with opening.opened(casebook) as kept:
        found = look(kept, outside)
    typer.echo(found.model_dump_json(indent=2) if as_json else found.text())
    if found.faults:
        raise typer.Exit(1)


def _outside(head: str) -> "Head":
    from claywit.records import disk
    from claywit.records.log import read_head

    if ":" in head and not Path(head).exists():
        return read_head(head)
    return read_head(disk.read_whole(Path(head), 20_000_000).decode("utf-8", "replace"))


@app.command()
def assess(  # noqa: PLR0913, PLR0917 - one argument for each thing that can be said
    case: CaseName,
    model: ModelFile,
    question: Question = None,
    for_: For = None,
    against: Against = None,
    examiner: Annotated[
        str | None, typer.Option("--examiner", metavar="NAME", help="Whose readings.")
    ] = None,
    casebook: Book = BOOK,
    as_json: AsJson = False,
) -> None:
    """Form an opinion on locked readings, and keep it.

    It is kept with the model and all else that it takes to form it again.
    """
    from claywit.records import files, opening, opinions
    from claywit.report.terminal import show as show_report

    known = files.read_model(model)
    asked = opinions.Asked(question, for_, against, examiner)
    with opening.opened(casebook, write=True) as kept:
        report, entry = opinions.opine(
            kept, case, known, files.read_standards(), now(), asked=asked
        )
    give(report, show_report, as_json=as_json)
    typer.echo(f"{case}: opinion kept (entry {entry.sequence})", err=as_json)


@app.command()
def replay(
    cases: Annotated[list[str] | None, typer.Argument(metavar="[CASE]...")] = None,
    casebook: Book = BOOK,
    as_json: AsJson = False,
) -> None:
    """Form kept opinions again, and compare the numbers.

    Two numbers are the same within 1e-9.

    Exit status: 0 all the same, 1 some differ.
    """
    from claywit.records import opening
    from claywit.records.replaying import replay_all, replays_said

    with opening.opened(casebook) as kept:
        found = replay_all(kept, cases or [])
    if as_json:
        typer.echo(json.dumps([one.model_dump() for one in found], indent=2, ensure_ascii=False))
    else:
        typer.echo(replays_said(found))
    if any(one.differences for one in found):
        raise typer.Exit(1)


@app.command()
def reopen(
    model: ModelFile,
    supersede: Annotated[
        bool, typer.Option("--supersede", help="Keep the new opinion where the words change.")
    ] = False,
    casebook: Book = BOOK,
    as_json: AsJson = False,
) -> None:
    """Weigh past cases with a newer MODEL: whose words change?

    With --supersede the new opinion is kept beside the old one, which stays.
    """
    from claywit.records import files, opening
    from claywit.records.replaying import reopen as weigh_again
    from claywit.records.replaying import reopened_said

    known = files.read_model(model)
    with opening.opened(casebook, write=supersede) as kept:
        found = weigh_again(kept, known, files.read_standards(), now(), supersede=supersede)
    if as_json:
        typer.echo(json.dumps([one.model_dump() for one in found], indent=2, ensure_ascii=False))
    else:
        typer.echo(reopened_said(found))


@app.command()
def triage(
    model: ModelFile,
    paths: Annotated[
        list[Path] | None,
        typer.Argument(metavar="[PATH]...", help="Evidence files, or folders of them."),
    ] = None,
    casebook: Book = BOOK,
    as_json: AsJson = False,
) -> None:
    """Sort a batch: which pieces deserve the lens?

    Sorts evidence files and folders of them, or else all cases with locked readings. Names pairs
    that look like casts of each other.

    Exit status: 0 all were weighed, 1 some could not be.
    """
    from claywit import triage as sorting
    from claywit.records import files

    known = files.read_model(model)
    candidates = _of_paths(known, paths) if paths else _of_cases(known, casebook)
    found = sorting.triage(known, candidates, files.read_standards())
    typer.echo(found.model_dump_json(indent=2) if as_json else sorting.triage_said(found))
    if any(piece.heap == "unreadable" for piece in found.pieces):
        raise typer.Exit(1)


def _of_paths(model: "Model", paths: list[Path]) -> "list[Candidate]":
    from claywit.errors import CasesError, ClaywitError
    from claywit.evidence.binding import bind
    from claywit.records import files
    from claywit.triage import Candidate

    listed: list[Path] = []
    for path in paths:
        within = sorted([*path.glob("*.yaml"), *path.glob("*.yml")]) if path.is_dir() else [path]
        if not within:
            raise CasesError(f"{path}: no evidence file (.yaml) in this folder")
        listed += within
    found = []
    for path in dict.fromkeys(listed):
        try:
            evidence, document = files.read_evidence(path)
            found.append(Candidate(str(path), bind(evidence, model, document.place)))
        except ClaywitError as wrong:
            found.append(Candidate(str(path), None, str(wrong)))
    return found


def _of_cases(model: "Model", casebook: Path) -> "list[Candidate]":
    from claywit.records import opening
    from claywit.records.candidates import candidates

    with opening.opened(casebook) as kept, kept.reading():
        return candidates(kept, model)


@app.command()
def fetch(
    case: CaseName,
    digest: Annotated[
        str, typer.Argument(metavar="DIGEST", help="Its first letters, as `show` prints them.")
    ],
    output: NewFile,
    casebook: Book = BOOK,
) -> None:
    """Write one thing of a case to a file.

    A photograph (without its position), readings, a model, a report or a certificate.
    """
    from claywit.errors import CasebookError
    from claywit.records import disk, opening
    from claywit.records.case import read_case
    from claywit.records.telling import may_leave

    with opening.opened(casebook) as kept, kept.reading():
        known = may_leave(read_case(kept, case))
        found = [one for one in known if len(digest) >= 6 and one.startswith(digest)]
        if len(found) != 1:
            raise CasebookError(
                f"{case}: {len(found) or 'nothing'} here begins with {digest[:64]!a}; give"
                " 6 letters or more, as `claywit casebook show` prints them"
            )
        content = kept.get(found[0])
    disk.write_new(output, content)
    typer.echo(f"{output}: {known[found[0]]}, {len(content):,} bytes")
