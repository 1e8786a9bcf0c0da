"""The signed, dated list of what a signer took back, as it lies beside the drafts, by its key."""

from pathlib import Path

from claywit.bench import drafts
from claywit.bench.desk import Desk
from claywit.bench.web import Refused
from claywit.certificate.outcome import Refused as NoList
from claywit.certificate.proof import Signer
from claywit.certificate.status import Entry, StatusList
from claywit.certificate.verify import read_status
from claywit.errors import CertificateError
from claywit.records import issued
from claywit.records.disk import read_whole, write_bytes

MOST = 3_000_000  # bytes of a status list
LACKS = (
    "The list here holds entries that this one lacks, or in another order; nothing was replaced."
)
LIST = "the list"  # as an error names the file, whatever folder it lies in
NONE = "Nothing was taken back yet, so there is no list."


def list_of(desk: Desk, issuer: str) -> StatusList | None:
    """Return the list of a signer, by its did:key; None where there is none."""
    path = path_of(desk, issuer)
    return _read(read_whole(path, MOST)) if path.exists() else None


def entries_of(desk: Desk, issuer: str) -> list[Entry] | None:
    """Return what is listed so far of a signer's certificates; None where there is no list."""
    held = list_of(desk, issuer)
    return None if held is None else list(held.credentialSubject.status.entries)


def text_of_list(desk: Desk, issuer: str) -> bytes:
    """Return the list as it is published.

    Raises:
        Refused: there is none.
    """
    path = path_of(desk, issuer)
    if not path.exists():
        raise Refused(404, NONE)
    return read_whole(path, MOST)


def path_of(desk: Desk, issuer: str) -> Path:
    """Return where the list of a signer lies."""
    return desk.drafts / f"{issuer.rpartition(':')[2]}.status"


def extend(desk: Desk, signer: Signer, *entries: Entry) -> None:
    """Add *entries* to the list of a signer, or begin one, and date it anew.

    Raises:
        CertificateError: an entry is in it already, or it would be longer than what is read.
    """
    path = path_of(desk, signer.did)
    drafts.own(desk.drafts)
    try:
        issued.extend_status(path, entries, signer, desk.now(), most=MOST)
    except CertificateError as wrong:
        raise CertificateError(str(wrong).replace(str(path), LIST)) from None


def replace_list(desk: Desk, issuer: str, text: bytes) -> None:
    """Take the list that was kept elsewhere so far, in place of the one here.

    Raises:
        Refused: it is another signer's, or does not go on from the one here.
        CertificateError: it is no list.
    """
    brought = _read(text)
    if brought.issuer != issuer:
        raise Refused(422, "This is the list of another signer.")
    drafts.own(desk.drafts)
    with desk.changing():  # or what is taken back meanwhile would be lost
        _refuse_shorter(list_of(desk, issuer), brought)
        write_bytes(path_of(desk, issuer), text)


def _read(text: bytes) -> StatusList:
    try:
        return read_status(text)
    except NoList as refused:
        raise CertificateError(f"{LIST}: {refused.failure.sentence}") from None


def _refuse_shorter(held: StatusList | None, brought: StatusList) -> None:
    """Refuse a list that does not go on from the one here, as whoever kept that one would."""
    if held is None:
        return
    entries = held.credentialSubject.status.entries
    if brought.credentialSubject.status.entries[: len(entries)] != entries:
        raise Refused(422, LACKS)
    if brought.validFrom < held.validFrom:
        raise Refused(422, f"The list here is the newer one, of {held.validFrom}.")
