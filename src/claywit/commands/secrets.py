"""How a passphrase is asked for: on a terminal, or from a file or descriptor, never an argument."""

import os
import sys
from pathlib import Path
from typing import Annotated

import typer

from claywit.errors import CertificateError

LONGEST = 1024
PassphraseFile = Annotated[
    Path | None,
    typer.Option("--passphrase-file", metavar="FILE", help="Read the passphrase from FILE."),
]
PassphraseFd = Annotated[
    int | None,
    typer.Option(
        "--passphrase-fd", metavar="N", min=0, help="Read the passphrase from open descriptor N."
    ),
]
KeyName = Annotated[
    str,
    typer.Argument(metavar="KEY", help="A name in the folder of keys, or a path of a key file."),
]


def passphrase(file: Path | None, fd: int | None, *, new: bool = False) -> bytes:
    """Return the passphrase, from the one place that was named or else from the terminal.

    Raises:
        CertificateError: two places were named, it cannot be read, or there is no terminal.
    """
    if file is not None and fd is not None:
        raise CertificateError("give --passphrase-file or --passphrase-fd, not both")
    if file is not None:
        from claywit.records.keys import read_secret

        return read_secret(file)
    if fd is not None:
        return _from_descriptor(fd)
    if not sys.stdin.isatty():
        raise CertificateError(
            "no terminal to ask for the passphrase; give --passphrase-file or --passphrase-fd"
        )
    return _from_terminal(new=new)


def _from_descriptor(fd: int) -> bytes:
    try:
        secret = os.read(fd, LONGEST + 1).rstrip(b"\r\n")
    except OSError as wrong:
        raise CertificateError(f"descriptor {fd}: cannot be read: {wrong.strerror}") from None
    if not secret or len(secret) > LONGEST:
        raise CertificateError(f"descriptor {fd}: gave no passphrase of 1 to {LONGEST} bytes")
    return secret


def _from_terminal(*, new: bool) -> bytes:
    from getpass import getpass

    secret = getpass("Passphrase: ")
    if new and getpass("The same again: ") != secret:
        raise CertificateError("the two passphrases differ; nothing was written")
    return secret.encode("utf-8")
