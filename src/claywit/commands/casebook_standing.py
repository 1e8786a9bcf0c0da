"""`claywit casebook status`: a signed list of the certificates that no longer stand."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from claywit.commands.casebook import BOOK, Book
from claywit.commands.casebook_answers import app
from claywit.commands.secrets import PassphraseFd, PassphraseFile, passphrase

__all__ = ["app"]


@app.command()
def status(
    key: Annotated[
        str, typer.Option("--key", "-k", metavar="KEY", help="The key that signs: name or path.")
    ],
    output: Annotated[
        Path, typer.Option("--status", metavar="FILE", help="The status list to begin or extend.")
    ],
    casebook: Book = BOOK,
    passphrase_file: PassphraseFile = None,
    passphrase_fd: PassphraseFd = None,
) -> None:
    """List the certificates whose opinion was superseded, signed and dated.

    A certificate is listed once one on the newer opinion was kept; till then it is named here only.
    """
    from claywit.certificate.identity import time_of
    from claywit.records import issued, keys, opening
    from claywit.records.case import read_cases
    from claywit.records.standing import fallen, to_list

    now = datetime.now(UTC)
    path = keys.key_path(key)
    secret = passphrase(passphrase_file, passphrase_fd) if keys.needs_passphrase(path) else None
    signer = keys.signer(path, secret)
    with opening.opened(casebook) as kept, kept.reading():
        found = [one for case in read_cases(kept) for one in fallen(kept, case, signer.did)]
    for one in found:
        if one.by is None:
            typer.echo(f"{one.case}: {one.certificate} has no certificate in its place yet")
    cases = {one.certificate: one.case for one in found}
    more = to_list(found, issued.listed(output, signer), now)
    count = issued.extend_status(output, more, signer, now)
    for entry in more:
        case = cases[entry.certificate or ""]
        typer.echo(f"{case}: superseded: {entry.certificate}\n  by {entry.by}")
    typer.echo(f"{output} of {time_of(now)} holds {count}; publish it where clients look")
