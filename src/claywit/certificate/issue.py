"""Issuing: refuse while anything is missing, else gather the trace and sign it."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from hashlib import sha256
from typing import Any

from claywit.certificate.canonical import canonical, read_canonical
from claywit.certificate.identity import identifier, time_of
from claywit.certificate.letters import strange_names
from claywit.certificate.proof import Signer, with_proof
from claywit.certificate.schema import CONTEXT, TYPE, Certificate, Trace
from claywit.certificate.trace import Terms, opinion, trace
from claywit.errors import CertificateError
from claywit.evidence.binding import Examined
from claywit.evidence.written import Engagement
from claywit.inference.likelihood import uncertainty
from claywit.model.schema import Model
from claywit.report.digest import digest
from claywit.report.report import Report
from claywit.report.standards import Standards

DATE = re.compile(r"\d{4}-\d\d-\d\d")


@dataclass(frozen=True)
class Issued:
    """A certificate: the bytes of its file, its identifier, its digest, and itself as a value."""

    text: bytes
    id: str
    digest: str
    certificate: Certificate


def certify(
    model: Model,
    examined: Examined,
    standards: Standards,
    *,
    signer: Signer,
    now: datetime,
    terms: Terms,
) -> Issued:
    """Return a signed certificate of the opinion of *model* on *examined*.

    Raises:
        CertificateError: something is missing; `details` lists all of it.
        ClaywitError: as `assessment.assess`.
    """
    lacks = list(missing_from_evidence(model, examined, now))
    lacks += missing_from_terms(model, terms, now)
    if lacks:
        raise _refused(examined, lacks)
    report = opinion(model, examined, standards)
    lacks = list(missing_from_report(model, report))
    if lacks:
        raise _refused(examined, lacks)
    found = trace(model, examined, standards, report, terms)
    return sign(found, signer, now=now, valid_until=terms.valid_until)


def sign(found: Trace, signer: Signer, *, now: datetime, valid_until: str | None) -> Issued:
    """Return *found* as a signed credential, its identifier made from its content."""
    document: dict[str, Any] = {
        "@context": CONTEXT,
        "type": ["VerifiableCredential", TYPE],
        "issuer": signer.did,
        "validFrom": time_of(now),
        **({"validUntil": valid_until} if valid_until else {}),
        "credentialSubject": {"trace": found.model_dump(mode="json", by_alias=True)},
    }
    document["id"] = identifier(document)
    text = canonical(with_proof(document, signer, time_of(now)))
    # Read back, so that pages made of it are those that can be made of its file: what was
    # signed has no order of keys, and its numbers are all floats.
    signed = Certificate.model_validate(read_canonical(text))
    return Issued(text, signed.id, sha256(text).hexdigest(), signed)


def missing_from_evidence(model: Model, examined: Examined, now: datetime) -> Iterator[str]:
    """Yield what the evidence must say before a certificate can be issued."""
    evidence = examined.evidence
    if not evidence.examiner:
        yield "examiner: who read the piece"
    stated = evidence.propositions
    if stated is None:
        yield "propositions: what is weighed against what (for, against, stated_at)"
    elif not stated.stated_at:
        yield "propositions.stated_at: the day on which they were stated"
    engagement = evidence.engagement or Engagement()
    for part, what in ENGAGED.items():
        if not getattr(engagement, part):
            yield f"engagement.{part}: {what}"
    effective = engagement.effective_date
    if effective and not _is_past(effective, now):
        yield f"engagement.effective_date: '{effective}' is no day that has been; as 2026-01-12"
    yield from _missing_uncertainties(model, examined)
    engaged = engagement.model_dump(mode="json")
    for what, strange in strange_names(evidence.piece.id, evidence.examiner, engaged):
        yield f"{what}: a name that cannot be taken for another; {strange}"


ENGAGED = {
    "client": "for whom",
    "intended_use": "for what use",
    "intended_users": "for whose eyes",
    "effective_date": "the day of the opinion",
    "interest": "the examiner's interest in the piece, or `none`",
    "told_beforehand": "what the examiner was told before reading, or `nothing`",
}


def _missing_uncertainties(model: Model, examined: Examined) -> Iterator[str]:
    for finding in examined.findings:
        for name, measure in (finding.measures or {}).items():
            node = model.node(finding.node)
            held = node.reading_error == "in_rows" or measure.value is None
            if not held and not uncertainty(node, name, measure):
                where = finding.node if len(node.measured) == 1 else f"{finding.node}.{name}"
                yield f"findings.{where}: its uncertainty, as {{value: …, u: …}}"


def missing_from_terms(model: Model, terms: Terms, now: datetime) -> Iterator[str]:
    """Yield what a measured model must bring, and what cannot be said of any."""
    figures = terms.evaluation
    if model.status == "measured" and figures is None:
        yield "evaluation: the figures of a test on known pieces (--evaluation FILE)"
    if figures is not None:
        tested = figures.get("model")
        if not isinstance(tested, dict) or tested.get("digest") != digest(model):
            yield "evaluation: figures of this very model (its digest as model.digest)"
    if terms.valid_until and terms.valid_until <= time_of(now):
        yield "valid until: a day that is still to come"


def missing_from_report(model: Model, report: Report) -> Iterator[str]:
    """Yield what is missing of the prior on which all weights rest."""
    why = report.explanation
    if why.prior_bans is None:
        yield "prior: the prior odds of the two propositions"
    if not why.rests_on:
        yield "prior: the probabilities on which the weights rest"
    for rest in why.rests_on:
        rows = model.node(rest.node).rows
        if rest.origin == "model" and not all(row.source for row in rows):
            yield f"prior: a source for the model's prior of {rest.node}"


def _is_past(text: str, now: datetime) -> bool:
    try:
        return bool(DATE.fullmatch(text)) and date.fromisoformat(text) <= now.date()
    except ValueError:
        return False


def _refused(examined: Examined, lacks: list[str]) -> CertificateError:
    names = ", ".join(lack.partition(":")[0] for lack in lacks)
    piece = examined.evidence.piece.id
    return CertificateError(
        f"{piece}: no certificate is issued while this is missing: {names}", lacks
    )
