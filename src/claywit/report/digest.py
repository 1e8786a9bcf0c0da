"""The digest of a value: SHA-256 of its canonical JSON (RFC 8785)."""

from hashlib import sha256
from typing import Any

import rfc8785
from pydantic import BaseModel

from claywit.model.once import once


def plain(value: BaseModel) -> dict[str, Any]:
    """Return a checked value as JSON data, what equals its default left out.

    Leaving defaults out keeps a digest when a later version of a format gains a key.
    """
    data: dict[str, Any] = value.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    return data


def canonical_json(value: BaseModel) -> str:
    """Return *value* as canonical JSON (RFC 8785), every key there."""
    return rfc8785.dumps(value.model_dump(mode="json", by_alias=True)).decode()


@once(16)  # a model outlives the many findings weighed by it
def digest(value: BaseModel) -> str:
    """Return the SHA-256 of *value* in canonical JSON, as 64 hexadecimal digits."""
    return sha256(rfc8785.dumps(plain(value))).hexdigest()
