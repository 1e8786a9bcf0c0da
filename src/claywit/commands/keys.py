"""`claywit keys`: make a key, show its public half, hand it out, take back what it signed."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from claywit.commands.secrets import KeyName, PassphraseFd, PassphraseFile, passphrase

app = typer.Typer(
    name="keys",
    help="Make, show and hand out the key that signs certificates; take certificates back.",
    no_args_is_help=True,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)


@app.command()
def new(
    key: KeyName,
    passphrase_file: PassphraseFile = None,
    passphrase_fd: PassphraseFd = None,
    no_passphrase: Annotated[
        bool, typer.Option("--no-passphrase", help="Leave the key bare, for a locked machine only.")
    ] = False,
) -> None:
    """Make a key: a private file that only you can read, and its public half beside it."""
    from claywit.records import keys

    secret = None if no_passphrase else passphrase(passphrase_file, passphrase_fd, new=True)
    made = keys.new_key(keys.key_path(key), secret)
    typer.echo(f"private key  {made.path}")
    typer.echo(f"public key   did:key:{made.multikey}")
    typer.echo(
        "Give the public key to your clients by another way than the certificate, as on your"
        " letterhead.\nKeep a copy of the private file and its passphrase in two places: neither"
        " can be made again."
    )


@app.command()
def show(key: KeyName) -> None:
    """Show the public half of a key, and how its private half is kept."""
    from claywit.records import keys

    found = keys.kept(keys.key_path(key))
    typer.echo(f"private key  {found.path}")
    typer.echo(f"public key   did:key:{found.multikey}")
    typer.echo(
        f"passphrase   {'yes' if found.encrypted else 'none: whoever has the file can sign'}"
    )


@app.command()
def export(
    key: KeyName,
    pem: Annotated[bool, typer.Option("--pem", help="In PEM, as other programs take it.")] = False,
) -> None:
    """Print the public half of a key, to be handed out."""
    from claywit.records import keys

    found = keys.kept(keys.key_path(key))
    typer.echo(keys.public_pem(found.multikey) if pem else f"did:key:{found.multikey}", nl=not pem)


@app.command()
def revoke(  # noqa: PLR0913, PLR0917 - one argument for each thing that can be said
    key: KeyName,
    status: Annotated[
        Path, typer.Option("--status", metavar="FILE", help="The status list to begin or extend.")
    ],
    certificate: Annotated[
        Path | None,
        typer.Option("--certificate", metavar="CERT", help="The certificate to take back."),
    ] = None,
    whole_key: Annotated[
        bool, typer.Option("--whole-key", help="Take back every certificate of this key.")
    ] = False,
    renew: Annotated[
        bool, typer.Option("--renew", help="Take nothing back; only date the list anew.")
    ] = False,
    superseded_by: Annotated[
        Path | None,
        typer.Option("--superseded-by", metavar="CERT", help="The one that takes its place."),
    ] = None,
    reason: Annotated[
        str, typer.Option("--reason", metavar="TEXT", help="Why, for whoever checks.")
    ] = "",
    passphrase_file: PassphraseFile = None,
    passphrase_fd: PassphraseFd = None,
) -> None:
    """Take back a certificate, or all of a key, in a signed and dated status list.

    Publish the list anew each time: whoever checks a certificate asks for the one of today.
    """
    from claywit.certificate.identity import time_of
    from claywit.certificate.status import Entry
    from claywit.errors import CertificateError
    from claywit.records import issued, keys

    if [certificate is not None, whole_key, renew].count(True) != 1:
        raise CertificateError("give one of --certificate CERT, --whole-key and --renew")
    if superseded_by and certificate is None:
        raise CertificateError("--superseded-by goes with --certificate")
    now = datetime.now(UTC)
    path = keys.key_path(key)
    secret = passphrase(passphrase_file, passphrase_fd) if keys.needs_passphrase(path) else None
    signer = keys.signer(path, secret)
    taken = issued.read_earlier(certificate, by=signer.did) if certificate else None
    by = issued.read_earlier(superseded_by) if superseded_by else None
    entry = Entry(
        certificate=taken.id if taken else None,
        state="superseded" if by else "revoked",
        at=time_of(now),
        reason=reason[:1000],
        by=by.id if by else None,
    )
    count = issued.extend_status(status, [] if renew else [entry], signer, now)
    what = "" if renew else f"{entry.state}: {entry.certificate or f'all of {path.name}'}\n"
    typer.echo(f"{what}{status} of {entry.at} holds {count}; publish it where clients look")
