"""Which certificates of a casebook no longer stand, for a signed status list."""

from dataclasses import dataclass

from claywit.certificate.outcome import Refused
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
    newer = {record.supersedes: step for step, record in case.of(Opinion) if record.supersedes}
    by_opinion: dict[str, str] = {}
    own: list[Certified] = []
    for _, kept in case.certificates:
        if kept.opinion and _is_by(store, kept, issuer):
            own.append(kept)
            by_opinion[kept.opinion] = kept.id
    found = []
    for kept in own:
        first = newer.get(str(kept.opinion))
        if first is None:
            continue
        step, replaced = first, by_opinion.get(first.digest)
        while step.digest in newer:
            step = newer[step.digest]
            replaced = by_opinion.get(step.digest, replaced)
        found.append(Fallen(case.id, kept.id, replaced, first.time))
    return found


def _is_by(store: Store, kept: Certified, issuer: str) -> bool:
    try:
        return read_certificate(store.get(kept.certificate)).issuer == issuer
    except Refused:
        return False
