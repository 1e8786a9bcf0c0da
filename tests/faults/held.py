"""Clock and chance held still, so that one run can be compared with another, byte for byte."""

from datetime import UTC, datetime

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from desk import seeded

from claywit.commands import (
    batch,
    casebook,
    casebook_answers,
    casebook_standing,
    certificates,
    keys,
)

NOW = datetime(2026, 2, 1, 12, tzinfo=UTC)


class _Still(datetime):
    @classmethod
    def now(cls, tz=None):
        return NOW.astimezone(tz)


def hold_still():
    """Let clock and chance be the same each time, and parts small."""
    for module in (casebook, casebook_answers):
        module.now = lambda: NOW
    casebook.SystemRandom = lambda: seeded(5)
    for module in (certificates, keys, casebook_standing):
        module.datetime = _Still
    Ed25519PrivateKey.generate = lambda: Ed25519PrivateKey.from_private_bytes(b"n" * 32)
    batch.WHOLE = batch.QUICK = 15
