"""Certificates and status lists, and how they are read."""

import json
from functools import cache

from made import LATER, SIGNER, small_certificate, verify

from claywit.certificate import status
from claywit.certificate.canonical import canonical, digest_of
from claywit.certificate.identity import identifier
from claywit.certificate.outcome import Refused
from claywit.certificate.proof import with_proof
from claywit.errors import CertificateError


def refusing(read):
    """Read a signed file as the commands do that turn what is wrong into one error."""

    def reader(content):
        try:
            return read(content)
        except Refused as wrong:
            raise CertificateError(f"c.json: {wrong.failure.sentence}") from None

    return reader


def verified(content):
    """Check a certificate as `claywit verify` does: there is a verdict on any bytes."""
    from claywit.certificate.verify import as_data
    from claywit.commands.verdict import as_text

    verdict = verify(content)
    shown = as_text(verdict)
    odd = {c for c in shown if not c.isprintable()} - {"\n"}
    assert not odd, f"a terminal may obey {odd} in {shown[:300]!r}"
    json.loads(as_data(verdict))
    if not verdict.valid:
        codes = [failure.code for failure in verdict.failures]
        assert codes, "not valid, and no code that says why"
        raise CertificateError(f"c.json: {codes}")
    return verdict.digest


@cache
def certificates():
    return (
        small_certificate().text,
        small_certificate(embed=False).text,
        small_certificate(valid_until="2028-06-30T23:59:59Z").text,
    )


def lied(content):
    """Check what a signer signed who writes anything at all: digests and signature fit."""
    try:
        raw = json.loads(content, parse_int=float)
        trace = raw["credentialSubject"]["trace"]
        for part in ("model", "evidence", "scale", "policy"):
            trace[part]["digest"] = digest_of(trace[part]["source"])
        signed = canonical(_signed(raw))
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError, OverflowError):
        raise CertificateError("c.json: not even a signer could sign this") from None
    return verified(signed)


def _signed(raw):
    proof = raw.pop("proof")
    raw["id"] = identifier(raw)
    return with_proof(raw, SIGNER, proof["created"])


@cache
def statuses():
    entry = status.Entry(
        certificate="urn:uuid:00000000-0000-8000-8000-000000000000", state="revoked",
        at="2026-01-20T12:00:00Z", reason="lost",
    )  # fmt: skip
    whole = entry.model_copy(update={"certificate": None, "reason": ""})
    return tuple(status.status_list(e, SIGNER, LATER) for e in ((), (entry,), (entry, whole)))
