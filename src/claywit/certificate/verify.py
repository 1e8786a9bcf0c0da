"""What can be checked of a certificate with no network and no inference, each failure by code."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, Literal, TypeVar

from pydantic import ValidationError

from claywit.certificate import schema, status
from claywit.certificate.canonical import digest_of, read_parts
from claywit.certificate.identity import identifier_of, time_of
from claywit.certificate.outcome import Failure, Refused
from claywit.certificate.proof import DID, SUITE, is_proof_by
from claywit.certificate.schema import Certificate
from claywit.certificate.status import StatusList

SKEW = timedelta(minutes=5)  # how far two honest clocks may differ; common practice, no source
Signed = TypeVar("Signed", Certificate, StatusList)
State = Literal["passed", "failed", "not checked"]


@dataclass(frozen=True)
class Check:
    """One thing that was looked at, and what came of it."""

    name: str
    state: State
    sentence: str


@dataclass(frozen=True)
class Verdict:
    """Everything that was looked at in a file that claims to be a certificate."""

    checks: tuple[Check, ...]
    failures: tuple[Failure, ...]
    certificate: Certificate | None = None
    digest: str = ""
    notes: tuple[str, ...] = ()

    @property
    def valid(self) -> bool:
        """Return whether nothing that was looked at is wrong."""
        return not self.failures and self.certificate is not None

    @property
    def answer(self) -> str:
        """Return the verdict in one line."""
        if not self.valid:
            return f"NOT VALID ({', '.join(failure.code for failure in self.failures)})"
        open_ = [check.name for check in self.checks if check.state == "not checked"]
        if "signer" in open_:
            return "Intact; signer not established."
        return "Valid as far as it was checked." if open_ else "Valid."


@dataclass
class Findings:
    """Checks and failures as they come in."""

    checks: list[Check] = field(default_factory=list)
    failures: list[Failure] = field(default_factory=list)

    def passed(self, name: str, sentence: str) -> None:
        """Keep a check that found nothing wrong."""
        self.checks.append(Check(name, "passed", sentence))

    def failed(self, name: str, code: str, sentence: str) -> None:
        """Keep a check that found something wrong, with its code."""
        self.checks.append(Check(name, "failed", sentence))
        self.failures.append(Failure(code, sentence))

    def skipped(self, name: str, sentence: str) -> None:
        """Keep what was not looked at, and why."""
        self.checks.append(Check(name, "not checked", sentence))


def read_certificate(text: bytes) -> Certificate:
    """Return the certificate in *text*, its signature found good.

    Raises:
        Refused: with the code of what is wrong.
    """
    raw, parts = read_parts(text)
    _refuse_other(raw, schema.TYPE, "trace")
    value = _typed(Certificate, raw)
    _refuse_envelope(raw, parts, schema.CONTEXT, schema.TYPE)
    return value


def read_status(text: bytes) -> StatusList:
    """Return the status list in *text*, its signature found good.

    Raises:
        Refused: with the code of what is wrong.
    """
    raw, parts = read_parts(text, "status list")
    _refuse_other(raw, status.TYPE, "status")
    value = _typed(StatusList, raw)
    _refuse_envelope(raw, parts, status.CONTEXT, status.TYPE)
    return value


def _refuse_other(raw: Any, kind: str, subject: str) -> None:
    """Refuse another kind of document before its parts are looked at."""
    types = raw.get("type") if isinstance(raw, dict) else None
    said = raw.get("credentialSubject") if isinstance(raw, dict) else None
    if not isinstance(types, list) or kind not in types:
        raise Refused("other_document", f"this is no {kind}: its type does not say so")
    if not isinstance(said, dict) or subject not in said:
        raise Refused("other_document", f"this is no {kind}: its subject holds no {subject}")
    proof = raw.get("proof")
    if not isinstance(proof, dict):
        raise Refused("no_proof", "there is no proof in it, or more than one")
    if proof.get("cryptosuite") != SUITE or proof.get("type") != "DataIntegrityProof":
        raise Refused(
            "other_suite",
            f"its proof is of another kind than {SUITE}, the only one that is taken here",
        )


def _typed(kind: type[Signed], raw: Mapping[str, Any]) -> Signed:
    try:
        return kind.model_validate(raw)
    except ValidationError as wrong:
        first = wrong.errors(include_url=False)[0]
        where = ".".join(str(step) for step in first["loc"])
        code = "unknown_field" if first["type"] == "extra_forbidden" else "schema"
        raise Refused(code, f"{where[:200]}: {first['msg'].lower()}") from None


def _refuse_envelope(
    raw: dict[str, Any], parts: Mapping[str, bytes], context: list[Any], kind: str
) -> None:
    """Refuse a proof that is not over this document, by its own issuer."""
    proof, issuer = raw["proof"], raw["issuer"]
    key = issuer.removeprefix(DID)
    if raw["@context"] != context or proof["@context"] != context:
        raise Refused("other_context", "its @context is not the one of this kind of document")
    if raw["type"] != ["VerifiableCredential", kind]:
        raise Refused("other_document", f"its types are not VerifiableCredential and {kind}")
    if proof["verificationMethod"] != f"{issuer}#{key}":
        raise Refused("other_method", "its proof names another key than its issuer's")
    if not is_proof_by(proof, parts, key):
        raise Refused("tampered", "the signature does not fit: something was changed after signing")
    if raw["id"] != identifier_of(parts):
        raise Refused("other_id", "its identifier is not the one that its content has")
    if proof["created"] != raw["validFrom"]:
        raise Refused("other_time", "it names two times of signing")


def check_certificate(
    found: Findings, text: bytes, *, signer: str | None, now: datetime
) -> Certificate | None:
    """Look at the file, the signature, the signer, the times and the digests, in that order.

    Args:
        found: takes what is found.
        text: the bytes of the file.
        signer: the Multikey that should have signed it, if the reader has it.
        now: the time by the reader's clock.
    """
    try:
        value = read_certificate(text)
    except Refused as refused:
        found.failed("file and signature", refused.failure.code, refused.failure.sentence)
        return None
    found.passed("file and signature", "nothing was changed since it was signed")
    _signer(found, value, signer)
    _times(found, value, now)
    for name, code, sentence in _digests(value):
        found.failed(name, code, sentence)
    if not found.failures:
        found.passed("digests", "model, evidence and scale are those that the report names")
    return value


def _signer(found: Findings, value: Certificate, signer: str | None) -> None:
    if signer is None:
        found.skipped(
            "signer",
            f"intact; signer not established: it is signed by {value.issuer}; compare that with"
            " the key the signer gave you by another way (--signer)",
        )
    elif value.issuer != DID + signer:
        found.failed("signer", "wrong_key", f"it was signed by {value.issuer}, another key")
    else:
        found.passed("signer", f"signed with the key that you named, {value.issuer}")


def _times(found: Findings, value: Certificate, now: datetime) -> None:
    claimed = f"signed {value.validFrom} by the signer's own claim"
    if value.validFrom > time_of(now + SKEW):
        found.failed("time", "from_the_future", f"{claimed}, which is still to come")
    elif value.validUntil and value.validUntil < time_of(now):
        found.failed("time", "expired", f"{claimed}; it ended {value.validUntil}")
    else:
        end = f"valid until {value.validUntil}" if value.validUntil else "no end stated"
        found.passed("time", f"{claimed}; {end}")


def _digests(value: Certificate) -> Iterator[tuple[str, str, str]]:
    """Yield each part whose digest is not the one that it, or the report, says it has."""
    trace = value.trace
    model, evidence = trace.model, trace.evidence
    if model.source is not None and digest_of(model.source) != model.digest:
        yield "model", "model_differs", "the model in it is not the one whose digest it names"
    if _said(trace.report, "model", "digest") != model.digest:
        yield "model", "model_differs", "its report is about another model"
    if digest_of(evidence.source) != evidence.digest:
        yield "evidence", "findings_differ", "the evidence in it has another digest than it names"
    if _said(trace.report, "evidence", "digest") != evidence.digest:
        yield "evidence", "findings_differ", "its report is about other evidence"
    for part in (trace.scale, trace.policy, trace.evaluation):
        if part is not None and digest_of(part.source) != part.digest:
            yield part.id, "data_differ", f"{part.id[:80]} has another digest than it names"
    for part in (trace.scale, trace.policy):
        if part.source.get("id") != part.id:
            yield part.id, "data_differ", f"'{part.id[:80]}' is not what the data in it is called"


def _said(report: Mapping[str, Any], *path: str) -> Any:
    said: Any = report
    for step in path:
        said = said.get(step) if isinstance(said, Mapping) else None
    return said


def check_status(found: Findings, value: Certificate, text: bytes | None) -> None:
    """Look the certificate up in a status list; without one, say that nobody did."""
    if text is None:
        found.skipped("status", "status not checked: give the signer's list of today (--status)")
        return
    try:
        listed = read_status(text)
    except Refused as refused:
        found.failed("status", f"status_{refused.failure.code}", refused.failure.sentence)
        return
    if listed.issuer != value.issuer:
        found.failed("status", "status_wrong_key", "the status list is by another signer")
        return
    for entry in listed.credentialSubject.status.entries:
        if entry.certificate in (None, value.id):
            found.failed("status", *_taken_back(entry))
            return
    if listed.validFrom < value.validFrom:
        found.skipped(
            "status", f"status not checked: the list of {listed.validFrom} is the older of the two"
        )
        return
    found.passed("status", f"not taken back in the list of {listed.validFrom}")


def _taken_back(entry: status.Entry) -> tuple[str, str]:
    why = f": {entry.reason}" if entry.reason else ""
    if entry.certificate is None:
        return "key_revoked", f"its signer took back the whole key at {entry.at}{why}"
    by = f" by {entry.by}" if entry.by else ""
    return entry.state, f"{entry.state} at {entry.at}{by}{why}"
