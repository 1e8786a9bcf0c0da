"""`claywit bench`: the page on this machine for all that is done with one piece."""

from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from random import SystemRandom
from typing import Annotated

import typer


def bench(
    model: Annotated[
        Path | None,
        typer.Argument(metavar="[MODEL]", help="A model file (YAML); else the demonstration."),
    ] = None,
    casebook: Annotated[
        Path,
        typer.Option(
            "--casebook",
            "-c",
            metavar="FILE",
            envvar="CLAYWIT_CASEBOOK",
            help="The casebook; made if it is not there.",
        ),
    ] = Path("casebook.db"),
    port: Annotated[
        int, typer.Option("--port", min=0, max=65535, help="Of loopback; 0 takes a free one.")
    ] = 0,
    no_open: Annotated[
        bool, typer.Option("--no-open", help="Print the address, open no browser.")
    ] = False,
) -> None:
    """Examine a piece on a page of this machine. Nothing leaves the machine; Ctrl-C ends it."""
    from claywit.bench import drafts
    from claywit.bench.app import make_app
    from claywit.bench.desk import Desk
    from claywit.bench.guard import Pass
    from claywit.bench.judge import Judge
    from claywit.bench.serving import listen, serve
    from claywit.bench.warming import warm
    from claywit.records import files, opening
    from claywit.records.drafting import clear_drafts

    known = files.read_model(model) if model else files.read_demonstration()
    sockets = listen(port)
    held = Pass(sockets[0].getsockname()[1])
    if not casebook.exists():
        opening.begin(casebook, datetime.now(UTC), SystemRandom())
        typer.echo(f"{casebook}: a new casebook")
    clear_drafts(casebook)  # of a bench that was killed while it made one
    kept = casebook.with_name(f"{casebook.stem}-bench")
    drafts.own(kept)
    judge = Judge(known)
    desk = Desk(
        model=known,
        standards=files.read_standards(),
        casebook=casebook,
        drafts=kept,
        now=lambda: datetime.now(UTC),
        rng=SystemRandom(),
        page_key=held.page,
        judging=judge,
    )

    def opened() -> None:
        judge.begin()
        typer.echo(f"The bench is open at\n  {held.address}\nClose it with Ctrl-C.")
        if not no_open:
            import webbrowser  # all commands would wait for it

            with suppress(webbrowser.Error):
                webbrowser.open(held.address_once)
        warm(desk)  # while the browser starts

    try:
        serve(make_app(desk, held), sockets, opened)
    finally:
        judge.close()
