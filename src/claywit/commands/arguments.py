"""Arguments and options that many commands have, in the same words everywhere."""

from pathlib import Path
from typing import Annotated

import typer

ModelFile = Annotated[Path, typer.Argument(metavar="MODEL", help="A model file (YAML).")]
EvidenceFile = Annotated[Path, typer.Argument(metavar="EVIDENCE", help="An evidence file (YAML).")]
Question = Annotated[
    str | None, typer.Option("--question", "-q", metavar="NODE", help="The node asked about.")
]
For = Annotated[
    str | None, typer.Option("--for", metavar="PROPOSITION", help="As mould=M04,class=C1.")
]
Against = Annotated[
    str | None, typer.Option("--against", metavar="PROPOSITION", help="As period=P1|P2.")
]
RejectsFile = Annotated[
    Path | None,
    typer.Option("--rejects", metavar="FILE", help="Where bad rows go; without, none may be."),
]
Seed = Annotated[int, typer.Option("--seed", min=0, help="Of the numbers that are drawn.")]
Html = Annotated[
    Path | None, typer.Option("--html", metavar="FILE", help="Write a page to FILE as well.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Print the answer as JSON.")]
