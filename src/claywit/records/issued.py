"""Signed files on disk: certificates, which are never overwritten, and status lists, which grow."""

from collections.abc import Sequence
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import Any

from claywit.certificate.canonical import MAX_BYTES, read_canonical
from claywit.certificate.outcome import Refused
from claywit.certificate.proof import Signer
from claywit.certificate.schema import Earlier
from claywit.certificate.status import Entry, status_list, with_entries
from claywit.certificate.verify import read_certificate, read_status
from claywit.errors import CertificateError
from claywit.records.alone import alone
from claywit.records.disk import read_bytes, write_bytes
from claywit.records.drafting import clear_drafts

MAX_PAGE = 64_000_000  # a PDF holds the signed file, and fonts


def read_signed(path: Path) -> bytes:
    """Return the bytes of a signed file as they are, one too many where it is too large.

    Raises:
        CertificateError: there is no such file, or it cannot be read.
    """
    return read_bytes(path, MAX_BYTES, CertificateError)


def read_page(path: Path) -> bytes:
    """Return the bytes of a page or PDF that was handed out with a certificate.

    Raises:
        CertificateError: there is no such file, or it cannot be read.
    """
    return read_bytes(path, MAX_PAGE, CertificateError)


def refuse_existing(certificate: Path, *pages: Path | None) -> None:
    """Refuse to write over what may have been handed out.

    Raises:
        CertificateError: the *certificate* or one of its *pages* is there already.
    """
    named = [certificate, *(page for page in pages if page is not None)]
    for path in named:
        clear_drafts(path)
    for path in named:
        if not path.exists():
            continue
        if certificate.exists():
            raise CertificateError(
                f"{path}: is there already; what was issued is never overwritten, so give"
                " another name (and --supersedes, if this one takes its place)"
            )
        raise CertificateError(
            f"{path}: is there without {certificate}: a page of another certificate, or of one"
            " that was stopped before it was issued; remove it, or give another name"
        )


def read_earlier(path: Path, *, by: str | None = None) -> Earlier:
    """Return how another signed file names the certificate at *path*; its signature must be good.

    Raises:
        CertificateError: it is no certificate, or not one signed *by* that did:key.
    """
    try:
        text = read_signed(path)
        value = read_certificate(text)
    except Refused as refused:
        raise CertificateError(f"{path}: {refused.failure.sentence}") from None
    if by is not None and value.issuer != by:
        raise CertificateError(f"{path}: was signed by {value.issuer}, not by {by}")
    return Earlier(id=value.id, digest=sha256(text).hexdigest())


def read_figures(path: Path) -> dict[str, Any]:
    """Return the evaluation figures in the canonical JSON file at *path*.

    Raises:
        CertificateError: it cannot be read, or holds no object.
    """
    try:
        figures = read_canonical(read_signed(path), "file of figures")
    except Refused as refused:
        raise CertificateError(f"{path}: {refused.failure.sentence}") from None
    if not isinstance(figures, dict):
        raise CertificateError(f"{path}: holds no figures; it must be one JSON object")
    return figures


def extend_status(
    path: Path, more: Sequence[Entry], signer: Signer, now: datetime, *, most: int = MAX_BYTES
) -> int:
    """Add entries to the status list at *path*, or begin one; return how many it holds.

    Without *more* entries the list is only dated anew.

    Args:
        path: where the list lies.
        more: what is added, signed once for all of them.
        signer: whose list it is.
        now: its date.
        most: the bytes of a list that can be read where this one is used.

    Raises:
        CertificateError: the list there is no sound one of this signer, has an entry already, or
            would be longer than what is read.
    """
    with alone(path.parent, wait=True):  # or two at once would lose the entry of one
        try:
            entries = with_entries(_entries(path, signer), more)
        except ValueError as wrong:
            raise CertificateError(f"{path}: {wrong}; nothing was written") from None
        text = status_list(entries, signer, now)
        if len(text) > most:
            raise CertificateError(
                f"{path}: would have {len(text):,} bytes, and at most {most:,} are read; nothing"
                " was written. Give shorter reasons, or take the whole key back and sign with a"
                " new one"
            )
        write_bytes(path, text)
    return len(entries)


def listed(path: Path, signer: Signer) -> frozenset[str]:
    """Return the ids of the certificates that the status list at *path* names.

    Raises:
        CertificateError: as `extend_status`.
    """
    return frozenset(e.certificate for e in _entries(path, signer) if e.certificate)


def _entries(path: Path, signer: Signer) -> tuple[Entry, ...]:
    """Return what the list at *path* holds so far, nothing where there is none."""
    if not path.exists():
        return ()
    try:
        found = read_status(read_signed(path))
    except Refused as refused:
        raise CertificateError(f"{path}: {refused.failure.sentence}; nothing was written") from None
    if found.issuer != signer.did:
        raise CertificateError(f"{path}: is the list of {found.issuer}; give another file")
    return found.credentialSubject.status.entries
