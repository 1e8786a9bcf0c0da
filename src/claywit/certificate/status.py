"""A status list: what its signer took back or replaced, signed and dated like a certificate.

A certificate cannot say of itself that it was withdrawn. Whoever relies on one asks its
signer for the list of today.
"""

from collections.abc import Sequence
from datetime import datetime
from typing import Any, Literal

from pydantic import Field, StrictStr

from claywit.certificate.canonical import canonical
from claywit.certificate.identity import identifier, time_of
from claywit.certificate.proof import Signer, with_proof
from claywit.certificate.schema import Did, Id, Proof, Strict, Time

FORMAT = "claywit-status/1"
TYPE = "PieceOpinionStatus"
CONTEXT: list[Any] = [
    "https://www.w3.org/ns/credentials/v2",
    {
        TYPE: f"urn:{FORMAT.replace('/', ':')}#{TYPE}",
        "status": {"@id": f"urn:{FORMAT.replace('/', ':')}#status", "@type": "@json"},
    },
]


class Entry(Strict):
    """One certificate that no longer stands, or every one of a key (*certificate* null)."""

    certificate: Id | None
    state: Literal["revoked", "superseded"]
    at: Time
    reason: StrictStr = ""
    by: Id | None = None


class Status(Strict):
    """All that its signer took back so far, oldest first."""

    format: Literal["claywit-status/1"]
    entries: tuple[Entry, ...]


class Subject(Strict):
    """What the credential is about."""

    status: Status


class StatusList(Strict):
    """A signed status list, as it stands in its file."""

    context: list[Any] = Field(alias="@context")
    id: Id
    type: list[StrictStr]
    issuer: Did
    validFrom: Time  # noqa: N815 - names of the standard
    credentialSubject: Subject  # noqa: N815
    proof: Proof


def status_list(entries: Sequence[Entry], signer: Signer, now: datetime) -> bytes:
    """Return a signed list of *entries*, dated *now*."""
    status = Status(format="claywit-status/1", entries=tuple(entries))
    document: dict[str, Any] = {
        "@context": CONTEXT,
        "type": ["VerifiableCredential", TYPE],
        "issuer": signer.did,
        "validFrom": time_of(now),
        "credentialSubject": {"status": status.model_dump(mode="json")},
    }
    document["id"] = identifier(document)
    return canonical(with_proof(document, signer, time_of(now)))


def with_entries(entries: Sequence[Entry], more: Sequence[Entry]) -> tuple[Entry, ...]:
    """Return *entries* with some *more*; what was taken back once stays taken back.

    Raises:
        ValueError: a certificate stands in the list already.
    """
    listed = {entry.certificate: entry for entry in entries}
    for entry in more:
        earlier = listed.get(entry.certificate)
        if earlier:
            what = entry.certificate or "the key as a whole"
            raise ValueError(f"{what} is in the list already: {earlier.state} at {earlier.at}")
        listed[entry.certificate] = entry
    return (*entries, *more)
