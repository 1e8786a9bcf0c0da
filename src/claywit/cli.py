"""The command line: arguments, one call, a printed answer, an exit status.

Modules that take long to import are imported inside the commands, so that `--help` is
there at once.
"""

import gc
import os
import sys
from contextlib import suppress
from io import TextIOWrapper
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
    formats,
    moulds,
    piece,
    simulate,
)
from claywit.commands import keys as keys_command
from claywit.commands.bench import bench
from claywit.commands.casebook_standing import app as casebook
from claywit.commands.elicit import app as elicit
from claywit.commands.endings import Commands, end_on_termination, printed
from claywit.commands.examiners import examiners
from claywit.commands.shown import refuse_steering, show_warnings
from claywit.errors import ClaywitError

ARITHMETIC = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
LITTER = 10_000  # objects made and not yet let go, from which garbage is looked for

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


app.command()(formats.check)
app.command()(piece.assess)
app.command()(piece.contrast)
app.command(name="next")(piece.look_next)
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
app.command()(piece.sensitivity)
app.command()(piece.joint)
app.command()(piece.stories)
app.command()(formats.schema)
app.add_typer(keys_command.app)
app.command()(bench)


def main() -> None:
    """Run the command line; an expected error is one line and exit status 2."""
    # What is imported stays: looking for garbage in it took one part in fifteen of the start.
    gc.set_threshold(LITTER)
    # To start threads of arithmetic takes longer than they save; each worker is to have one core.
    for name in ARITHMETIC:
        os.environ.setdefault(name, "1")
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
