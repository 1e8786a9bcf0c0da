"""Whether a certificate still stands: it is looked up in its signer's status lists."""

from dataclasses import dataclass
from datetime import datetime

from claywit.certificate.identity import SKEW, time_of
from claywit.certificate.outcome import Refused, Wrong
from claywit.certificate.schema import Certificate
from claywit.certificate.status import Entry, StatusList
from claywit.certificate.verify import Findings, read_status


@dataclass(frozen=True)
class Lists:
    """What a reader knows of the status of certificates.

    today: the bytes of the signer's list of today. kept: those of a list from before, all of
    which today's must hold. since: the moment before which a list is too old for the reader.
    """

    today: bytes | None = None
    kept: bytes | None = None
    since: datetime | None = None


def check_status(found: Findings, value: Certificate, lists: Lists, now: datetime) -> None:
    """Look the certificate up in the status lists; without one, say that nobody did."""
    if lists.today is None:
        found.skipped("status", "status not checked: give the signer's list of today (--status)")
        return
    today = _read(found, value, lists.today)
    kept = _read(found, value, lists.kept) if lists.kept is not None else None
    if today is None or (kept is None and lists.kept is not None):
        return
    for listed in filter(None, (today, kept)):
        for entry in listed.credentialSubject.status.entries:
            if entry.certificate in (None, value.id):
                found.failed("status", *_taken_back(entry))
                return
    _check_list(found, value, (today, kept), lists.since, now)


def _read(found: Findings, value: Certificate, text: bytes) -> StatusList | None:
    """Return a status list of the signer of the certificate, or None once it is said why not."""
    try:
        listed = read_status(text)
    except Refused as refused:
        found.refused("status", refused.of_status())
        return None
    if listed.issuer != value.issuer:
        found.failed("status", "status_wrong_key", "the status list is by another signer")
        return None
    return listed


def _check_list(
    found: Findings,
    value: Certificate,
    lists: tuple[StatusList, StatusList | None],
    since: datetime | None,
    now: datetime,
) -> None:
    """Say how far the list that does not name the certificate can be relied on."""
    today, kept = lists
    dated = f"the list of {today.validFrom}"
    entries = today.credentialSubject.status.entries
    if today.validFrom > time_of(now + SKEW):
        found.failed("status", "status_from_the_future", f"{dated} is still to come")
    elif since is not None and today.validFrom < time_of(since):
        found.failed("status", "status_stale", f"{dated} is older than {time_of(since)}")
    elif kept and (
        kept.validFrom > today.validFrom
        or entries[: len(kept.credentialSubject.status.entries)]
        != kept.credentialSubject.status.entries
    ):
        found.failed(
            "status",
            "status_cut",
            f"{dated} does not go on from the one of {kept.validFrom} that you kept, and what was"
            " taken back once stays taken back",
        )
    elif today.validFrom < value.validFrom:
        found.skipped("status", f"status not checked: {dated} is the older of the two")
    else:
        age = (now - datetime.fromisoformat(today.validFrom)).days
        old = f", {age} days old" if age > 0 else ""
        found.passed("status", f"not taken back in {dated}{old}")


def _taken_back(entry: Entry) -> tuple[Wrong, str]:
    why = f": {entry.reason}" if entry.reason else ""
    if entry.certificate is None:
        return "key_revoked", f"its signer took back the whole key at {entry.at}{why}"
    by = f" by {entry.by}" if entry.by else ""
    return entry.state, f"{entry.state} at {entry.at}{by}{why}"
