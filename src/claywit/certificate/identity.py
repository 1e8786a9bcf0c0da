"""The names of signed things: an identifier made from the content, and times to the second."""

from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from hashlib import sha256
from itertools import pairwise
from typing import Any

from claywit.certificate.canonical import joined, members
from claywit.errors import CertificateError

SKEW = timedelta(minutes=5)  # how far two honest clocks may differ; common practice, no source


def identifier(document: Mapping[str, Any]) -> str:
    """Return the identifier of a credential: a UUID made from all of it but its name and proof.

    A UUID of version 8 (RFC 9562), which leaves its bits to the maker: here those of SHA-256.
    """
    return identifier_of(members(document))


def identifier_of(parts: Mapping[str, bytes]) -> str:
    """Do as `identifier`, for a credential in canonical parts."""
    number = int(sha256(joined(parts, "id", "proof")).hexdigest()[:32], 16)
    number = number & ~(0xF << 76) | 8 << 76
    number = number & ~(0x3 << 62) | 2 << 62
    digits = f"{number:032x}"
    cut = [digits[a:b] for a, b in pairwise((0, 8, 12, 16, 20, 32))]
    return f"urn:uuid:{'-'.join(cut)}"


def time_of(now: datetime) -> str:
    """Return a time as a credential writes it, in UTC to the second."""
    return now.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def end_of_day(text: str) -> str:
    """Return the last second of the day *text*, as a credential writes it.

    Raises:
        CertificateError: it is no date.
    """
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise CertificateError(f"'{text}' is no date; write it as 2028-06-30") from None
    return f"{day.isoformat()}T23:59:59Z"
