"""`claywit casebook`: take pieces in, lock readings, keep opinions; see `casebook_answers` too."""

import json
import sys
from datetime import UTC, datetime
from pathlib import Path
from random import SystemRandom
from typing import TYPE_CHECKING, Annotated

import typer

from claywit.commands.arguments import AsJson, EvidenceFile

if TYPE_CHECKING:
    from claywit.records.log import Entry

app = typer.Typer(
    name="casebook",
    help="Keep cases, locked readings and opinions in one file.",
    no_args_is_help=True,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)

Book = Annotated[
    Path,
    typer.Option(
        "--casebook", "-c", metavar="FILE", envvar="CLAYWIT_CASEBOOK", help="The casebook."
    ),
]
BOOK = Path("casebook.db")
CaseName = Annotated[str, typer.Argument(metavar="CASE", help="The name of a case, as weir-021.")]
NewFile = Annotated[
    Path, typer.Option("--output", "-o", metavar="FILE", help="Write to FILE, which is new.")
]
MAX_FORM = 4_000_000


def now() -> datetime:
    """Return the time by this machine's clock."""
    return datetime.now(UTC)


def told_entry(entry: "Entry", what: str) -> None:
    """Print that a step was taken, and as which entry of the log."""
    typer.echo(f"{what} (entry {entry.sequence})")


@app.command()
def new(casebook: Book = BOOK) -> None:
    """Make an empty casebook, for your eyes only."""
    from claywit.records import opening

    opening.begin(casebook, now(), SystemRandom())
    typer.echo(f"{casebook}: a new casebook")
    typer.echo("Its head, to be kept outside, is what `claywit casebook head` prints.")


@app.command()
def form(piece: Annotated[str, typer.Argument(metavar="PIECE")] = "weir-021") -> None:
    """Print an empty intake form for a piece."""
    from claywit.records.intake import empty_form

    typer.echo(empty_form(piece), nl=False)


@app.command()
def intake(
    form: Annotated[Path, typer.Argument(metavar="FORM", help="A filled-in intake form.")],
    revise: Annotated[
        str | None,
        typer.Option("--revise", metavar="REASON", help="Correct a case that is there already."),
    ] = None,
    casebook: Book = BOOK,
) -> None:
    """Take a piece in: open its case, and seal its story and price."""
    from claywit.records import casebook as book
    from claywit.records import disk, opening
    from claywit.records.case import read_case
    from claywit.records.intake import DEFERENCE, missing, open_questions, read_intake

    filled, _ = read_intake(disk.read_whole(form, MAX_FORM), str(form))
    with opening.opened(casebook, write=True) as kept:
        if revise is None:
            entry = book.intake(kept, filled, now(), SystemRandom())
        else:
            entry = book.revise(kept, filled, revise, now(), SystemRandom())
        case = read_case(kept, filled.piece.id)
    told_entry(entry, f"{case.id}: {'taken in' if revise is None else 'revised'}")
    lacks = missing(filled.piece, len(case.photographs))
    still = open_questions(filled.checklist)
    typer.echo(f"Object ID lacks: {', '.join(lacks) or 'nothing'}")
    typer.echo(f"Checklist, still open: {', '.join(still) or 'nothing'}")
    if filled.sealed.story or filled.sealed.price:
        typer.echo(f"Story and price are sealed; delete {form}, which still shows them.")
    typer.echo(DEFERENCE)


@app.command()
def seal(case: CaseName, casebook: Book = BOOK) -> None:
    """Seal a story that is typed or piped in."""
    from claywit.errors import CasebookError
    from claywit.records import casebook as book
    from claywit.records import opening

    if sys.stdin.isatty():
        typer.echo("Type the story; end with Ctrl-D on a line of its own.", err=True)
    try:
        story = sys.stdin.read(4001)
    except UnicodeDecodeError:
        raise CasebookError("the story is not UTF-8; type it, or save it as UTF-8") from None
    if len(story) > 4000:
        raise CasebookError("the story is longer than 4000 letters; seal it in parts")
    with opening.opened(casebook, write=True) as kept:
        told_entry(book.seal(kept, case, story.strip(), now(), SystemRandom()), f"{case}: sealed")


@app.command()
def photograph(
    case: CaseName,
    image: Annotated[Path, typer.Argument(metavar="IMAGE", help="A JPEG, PNG or TIFF.")],
    view: Annotated[str, typer.Option("--view", metavar="VIEW", help="As front, back or edge.")],
    scale: Annotated[
        str, typer.Option("--scale", metavar="SCALE", help="What scale is in it, or none.")
    ],
    casebook: Book = BOOK,
) -> None:
    """Add a photograph, and note the scale in it.

    It is kept as it came, with a clean copy that holds no position and no remarks.
    """
    from claywit.records import casebook as book
    from claywit.records import disk, opening, photographs

    content = disk.read_whole(image, photographs.MAX_BYTES)
    with opening.opened(casebook, write=True) as kept:
        shot = book.Shot(view, scale)
        entry, added = book.photograph(kept, case, content, shot, now(), name=str(image))
    told_entry(entry, f"{case}: {view}, {added.width} × {added.height} pixels, {added.clean[:12]}")


@app.command()
def lock(
    case: CaseName,
    evidence: EvidenceFile,
    casebook: Book = BOOK,
) -> None:
    """Lock readings, before story and price are shown."""
    from claywit.model.source import MAX_BYTES
    from claywit.records import casebook as book
    from claywit.records import disk, opening

    written = disk.read_whole(evidence, MAX_BYTES)
    with opening.opened(casebook, write=True) as kept:
        entry = book.lock(kept, case, written, now(), name=str(evidence))
    told_entry(entry, f"{case}: readings locked")


@app.command()
def unmask(case: CaseName, casebook: Book = BOOK) -> None:
    """Show story and price, once readings are locked."""
    from claywit.records import casebook as book
    from claywit.records import opening
    from claywit.records.telling import told

    with opening.opened(casebook, write=True) as kept:
        found, entry = book.unmask(kept, case, now())
    if entry:
        told_entry(entry, f"{case}: unmasked")
    shown = told(found).stories
    for what, text in shown:
        typer.echo(f"{what}: {text}")
    if not shown:
        typer.echo("Nothing to show: whoever handed on the bundle kept it back.")


@app.command()
def amend(
    case: CaseName,
    evidence: EvidenceFile,
    reason: Annotated[str, typer.Option("--reason", metavar="TEXT", help="Why they changed.")],
    casebook: Book = BOOK,
) -> None:
    """Add readings in place of the locked ones, which stay."""
    from claywit.model.source import MAX_BYTES
    from claywit.records import casebook as book
    from claywit.records import disk, opening

    written = disk.read_whole(evidence, MAX_BYTES)
    with opening.opened(casebook, write=True) as kept:
        entry = book.amend(kept, case, written, reason, now(), name=str(evidence))
    told_entry(entry, f"{case}: readings amended")


@app.command()
def keep(
    case: CaseName,
    certificate: Annotated[Path, typer.Argument(metavar="CERT", help="A certificate (JSON).")],
    casebook: Book = BOOK,
) -> None:
    """Keep a certificate, byte for byte."""
    from claywit.records import casebook as book
    from claywit.records import disk, opening

    content = disk.read_whole(certificate, book.MAX_CERTIFICATE)
    with opening.opened(casebook, write=True) as kept:
        entry = book.keep(kept, case, content, now(), name=str(certificate))
    told_entry(entry, f"{case}: certificate kept")


@app.command(name="export")
def export_case(
    case: CaseName,
    output: NewFile,
    with_sealed: Annotated[
        bool, typer.Option("--with-sealed", help="Hand on story and price too.")
    ] = False,
    casebook: Book = BOOK,
) -> None:
    """Write a whole case as one bundle.

    Photographs leave without their position; story and price stay unless asked for.
    """
    from claywit.records import bundle, disk, opening

    with opening.opened(casebook) as kept:
        content = bundle.export(kept, case, now(), sealed=with_sealed)
    disk.write_new(output, content)
    typer.echo(f"{case}: written to {output}, {len(content):,} bytes")


@app.command(name="import")
def import_case(
    archive: Annotated[Path, typer.Argument(metavar="BUNDLE", help="A bundle of `export`.")],
    as_: Annotated[
        str | None, typer.Option("--as", metavar="CASE", help="Under another name.")
    ] = None,
    casebook: Book = BOOK,
) -> None:
    """Add a case from a bundle, all of it or nothing."""
    from claywit.errors import CasebookError
    from claywit.records import bundle, disk, opening

    with (
        disk.plain_file(archive, CasebookError) as stream,
        opening.opened(casebook, write=True) as kept,
    ):
        brought = bundle.unpack(stream, str(archive))
        entry = bundle.bring_in(kept, brought, now(), name=as_)
    told_entry(entry, f"{entry.case}: brought in, {len(brought.manifest.entries)} steps")
    if brought.manifest.withheld:
        typer.echo(f"Withheld by whoever sent it: {len(brought.manifest.withheld)} parts")


@app.command()
def backup(output: NewFile, casebook: Book = BOOK) -> None:
    """Copy the whole casebook, even while it is in use."""
    from claywit.records import opening

    with opening.opened(casebook) as kept:
        opening.copy(kept, output)
        head = kept.head()
    typer.echo(f"{output}: a copy, {head.length} entries")


@app.command()
def head(casebook: Book = BOOK, as_json: AsJson = False) -> None:
    """Print length and hash of the log, to be kept outside."""
    from claywit.records import opening

    with opening.opened(casebook) as kept:
        found = kept.head()
    if as_json:
        typer.echo(json.dumps({"length": found.length, "hash": found.hash}))
    else:
        typer.echo(str(found))
