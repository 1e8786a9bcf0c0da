"""`claywit keys`: make a key, show its public half, hand it out, take back what it signed."""

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
