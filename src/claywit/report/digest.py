"""The digest of a value: SHA-256 of its canonical JSON (RFC 8785)."""

from hashlib import sha256
from threading import Lock
from typing import Any

import rfc8785
from pydantic import BaseModel

MOST = 16  # values whose digest is remembered
_LOCK = Lock()
_KNOWN: dict[int, tuple[BaseModel, str]] = {}


def plain(value: BaseModel) -> dict[str, Any]:
    """Return a checked value as JSON data, what equals its default left out.

    Leaving defaults out keeps a digest when a later version of a format gains a key.
    """
    data: dict[str, Any] = value.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    return data


def canonical_json(value: BaseModel) -> str:
    """Return *value* as canonical JSON (RFC 8785), every key there."""
    return rfc8785.dumps(value.model_dump(mode="json", by_alias=True)).decode()


def digest(value: BaseModel) -> str:
    """Return the SHA-256 of *value* in canonical JSON, as 64 hexadecimal digits."""
    with _LOCK:
        known = _KNOWN.pop(id(value), None)
        if known is None or known[0] is not value:
            # Values are frozen, so what was worked out once stays true for that very value.
            known = value, sha256(rfc8785.dumps(plain(value))).hexdigest()
        _KNOWN[id(value)] = known  # at the end: a model outlives the many findings weighed by it
        if len(_KNOWN) > MOST:
            _KNOWN.pop(next(iter(_KNOWN)))
    return known[1]
