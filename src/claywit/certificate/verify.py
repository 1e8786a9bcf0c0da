"""What can be checked of a certificate with no network and no inference, each failure by code."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal, TypeVar

from pydantic import BaseModel, ValidationError

from claywit.certificate import schema, status
from claywit.certificate.canonical import read_parts
from claywit.certificate.content import apart_in
from claywit.certificate.identity import SKEW, identifier_of, time_of
from claywit.certificate.outcome import Failure, Refused, Unsound, Wrong
from claywit.certificate.proof import DID, SUITE, refuse_unsigned
from claywit.certificate.schema import Certificate
from claywit.certificate.status import StatusList

FIELDS: Mapping[str, Unsound] = {"extra_forbidden": "unknown_field", "missing": "missing_field"}
Read = TypeVar("Read", bound=BaseModel)
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


def as_data(verdict: Verdict) -> str:
    """Return the verdict as JSON, each failure with its code."""
    value = verdict.certificate
    return json.dumps(
        {
            "format": "claywit-verdict/1",
            "valid": verdict.valid,
            "certificate": value.id if value else None,
            "digest": verdict.digest or None,
            "issuer": value.issuer if value else None,
            "signed": value.validFrom if value else None,
            "checks": [vars(check) for check in verdict.checks],
            "failures": [vars(failure) for failure in verdict.failures],
            "notes": verdict.notes,
        },
        indent=2,
        ensure_ascii=False,
    )


@dataclass
class Findings:
    """Checks and failures as they come in."""

    checks: list[Check] = field(default_factory=list)
    failures: list[Failure] = field(default_factory=list)

    def passed(self, name: str, sentence: str) -> None:
        """Keep a check that found nothing wrong."""
        self.checks.append(Check(name, "passed", sentence))

    def failed(self, name: str, code: Wrong, sentence: str) -> None:
        """Keep a check that found something wrong, with its code."""
        self.refused(name, Failure(code, sentence))

    def refused(self, name: str, failure: Failure) -> None:
        """Keep why a file could not even be read."""
        self.checks.append(Check(name, "failed", failure.sentence))
        self.failures.append(failure)

    def skipped(self, name: str, sentence: str) -> None:
        """Keep what was not looked at, and why."""
        self.checks.append(Check(name, "not checked", sentence))


def read_certificate(text: bytes) -> Certificate:
    """Return the certificate in *text*, its signature found good.

    Raises:
        Refused: with the code of what is wrong.
    """
    raw, parts = read_parts(text)
    _refuse_other(raw, schema.TYPE, "trace", schema.FORMAT)
    value = _typed(Certificate, raw)
    _typed(schema.Core, value.trace.report, "credentialSubject.trace.report.")
    _refuse_envelope(raw, parts, schema.CONTEXT, schema.TYPE)
    return value


def read_status(text: bytes) -> StatusList:
    """Return the status list in *text*, its signature found good.

    Raises:
        Refused: with the code of what is wrong.
    """
    raw, parts = read_parts(text, "status list")
    _refuse_other(raw, status.TYPE, "status", status.FORMAT)
    value = _typed(StatusList, raw)
    _refuse_envelope(raw, parts, status.CONTEXT, status.TYPE)
    return value


def _refuse_other(raw: Any, kind: str, subject: str, form: str) -> None:
    """Refuse another kind of document before its parts are looked at."""
    types = raw.get("type") if isinstance(raw, dict) else None
    said = raw.get("credentialSubject") if isinstance(raw, dict) else None
    if not isinstance(types, list) or kind not in types:
        raise Refused("other_document", f"this is no {kind}: its type does not say so")
    if not isinstance(said, dict) or subject not in said:
        raise Refused("other_document", f"this is no {kind}: its subject holds no {subject}")
    other = said[subject].get("format") if isinstance(said[subject], dict) else None
    if isinstance(other, str) and other != form:
        raise Refused(
            "other_format",
            f"it is written as {other[:80]!a}, and this claywit reads {form}; check it with the"
            " claywit that it was made for",
        )
    proof = raw.get("proof")
    if not isinstance(proof, dict):
        raise Refused("no_proof", "there is no proof in it, or more than one")
    if proof.get("cryptosuite") != SUITE or proof.get("type") != "DataIntegrityProof":
        raise Refused(
            "other_suite",
            f"its proof is of another kind than {SUITE}, the only one that is taken here",
        )


def _typed(kind: type[Read], raw: Mapping[str, Any], at: str = "") -> Read:
    try:
        return kind.model_validate(raw)
    except ValidationError as wrong:
        first = wrong.errors(include_url=False)[0]
        where = at + ".".join(str(step) for step in first["loc"])
        code = FIELDS.get(first["type"], "schema")
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
    refuse_unsigned(proof, parts, key)
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
        found.refused("file and signature", refused.failure)
        return None
    found.passed("file and signature", "nothing was changed since it was signed")
    _signer(found, value, signer)
    _times(found, value, now)
    apart = list(apart_in(value))
    for name, code, sentence in apart:
        found.failed(name, code, sentence)
    if not apart:
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
