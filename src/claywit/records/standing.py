"""Which certificates of a casebook no longer stand, for a signed status list."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime

from claywit.certificate.identity import time_of
from claywit.certificate.outcome import Refused
from claywit.certificate.status import Entry
from claywit.certificate.verify import read_certificate
from claywit.records.case import Case
from claywit.records.kept import Certified, Opinion
from claywit.records.store import Store


@dataclass(frozen=True)
class Fallen:
    """A certificate whose opinion was superseded, by its id.

    by: the certificate on the newest opinion; None where none was kept yet.
    at: when the newer opinion was formed.
    """

    case: str
    certificate: str
    by: str | None
    at: str


def fallen(store: Store, case: Case, issuer: str) -> list[Fallen]:
    """Return the certificates of *issuer* in a case that rest on a superseded opinion.

    Args:
        store: the casebook.
        case: one case of it.
        issuer: the did:key of the signer; others' certificates are theirs to take back.
    """
    newer = {
        record.supersedes: step
        for step, record in case.of(Opinion)
        # What somebody's bundle says of opinions takes no certificate of ours back.
        if record.supersedes and not step.elsewhere
    }
    by_opinion: dict[str, str] = {}
    own: list[tuple[str, str]] = []
    for _, kept in case.certificates:
        named = _id_by(store, kept, issuer)
        if kept.opinion and named:
            own.append((named, kept.opinion))
            by_opinion[kept.opinion] = named
    found = []
    for named, opinion in own:
        first = newer.get(opinion)
        if first is None:
            continue
        step, replaced = first, by_opinion.get(first.digest)
        while step.digest in newer:
            step = newer[step.digest]
            replaced = by_opinion.get(step.digest, replaced)
        found.append(Fallen(case.id, named, replaced, first.time))
    return found


def to_list(found: Iterable[Fallen], listed: Collection[str | None], now: datetime) -> list[Entry]:
    """Return what a status list must hold of those *found*, but for what is *listed* already.

    A certificate is listed once another one was kept in its place.
    """
    at = time_of(now)
    return [
        Entry(certificate=one.certificate, state="superseded", at=at, by=one.by)
        for one in found
        if one.by is not None and one.certificate not in listed
    ]


def _id_by(store: Store, kept: Certified, issuer: str) -> str:
    """Return what a certificate of *issuer* calls itself, whatever the record beside it says."""
    try:
        value = read_certificate(store.get(kept.certificate))
    except Refused:
        return ""
    return value.id if value.issuer == issuer else ""
