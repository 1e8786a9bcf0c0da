"""Certificates for tests: a key that is no secret, a moment, and a small piece to certify."""

from datetime import UTC, datetime
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from small import SHOPS, examined, model

from claywit.certificate.canonical import canonical, read_canonical
from claywit.certificate.check import Against
from claywit.certificate.check import verify as _verify
from claywit.certificate.identity import identifier
from claywit.certificate.issue import certify
from claywit.certificate.proof import Signer, multikey, with_proof
from claywit.certificate.standing import Lists
from claywit.certificate.trace import Terms
from claywit.records import files

ROOT = Path(__file__).parents[1]
NOW = datetime(2026, 1, 20, 12, 0, 0, tzinfo=UTC)
LATER = datetime(2026, 3, 1, tzinfo=UTC)
STATED = """
examiner: A
propositions: {for: shop=north, against: shop=south, stated_at: 2026-01-10}
engagement: {client: C, intended_use: sale, intended_users: [C], effective_date: 2026-01-12, interest: none, told_beforehand: nothing}
readings: {locked_at: 2026-01-11, masked: true}
"""
FINDINGS = "{rim: bevelled, mark: {state: stroke, sure: 0.9}}"


def a_signer(seed=b"s"):
    private = Ed25519PrivateKey.from_private_bytes(seed * 32)
    return Signer(multikey(private.public_key().public_bytes_raw()), private.sign)


SIGNER = a_signer()


def small_case(findings=FINDINGS, more=STATED, text=SHOPS):
    known = model(text)
    return known, examined(known, findings, more)


def issue(known, piece, *, signer=SIGNER, now=NOW, **terms):
    return certify(
        known, piece, files.read_standards(), signer=signer, now=now, terms=Terms(**terms)
    )


def small_certificate(**terms):
    return issue(*small_case(), **terms)


def demo_case():
    return files.read_piece(
        ROOT / "models" / "oskervane.yaml", ROOT / "evidence_examples/certified/04-marrable.yaml"
    )


def signed_again(text, change, *, signer=SIGNER, name=True):
    """Return the certificate *text* after *change*, signed anew as only its signer could."""
    raw = read_canonical(text)
    created = raw.pop("proof")["created"]
    raw = change(raw) or raw
    if name:
        raw["id"] = identifier(raw)
    return canonical(with_proof(raw, signer, created))


def verify(text, *, now=LATER, status=None, kept=None, since=None, **against):
    return _verify(text, Against(status=Lists(status, kept, since), **against), now=now)


def codes(verdict):
    return [failure.code for failure in verdict.failures]


def states(verdict):
    return {check.name: check.state for check in verdict.checks}


def unsigned(text, change):
    """Return *text* after a change that its signer did not sign."""
    raw = read_canonical(text)
    change(raw)
    return canonical(raw)


def put(*path, value):
    def change(raw):
        at = raw
        for step in path[:-1]:
            at = at[step]
        at[path[-1]] = value

    return change


def in_trace(*path, value):
    return put("credentialSubject", "trace", *path, value=value)
