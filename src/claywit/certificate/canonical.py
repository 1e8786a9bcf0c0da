"""Signed JSON: read strictly, and written in the one form in which it can be signed.

Canonical JSON is RFC 8785 (JSON Canonicalization Scheme). A signed file is exactly its
canonical bytes: a reader, a hash and a signature then speak of the same thing, and nothing
can hide in a second key of the same name, in white space or in another spelling of a number.
"""

import json
import re
from collections.abc import Mapping, Sequence
from hashlib import sha256
from typing import Any

import rfc8785

from claywit.certificate.outcome import Refused

MAX_BYTES = 16_000_000
MAX_VALUES = 500_000  # counted by the commas, before each takes a hundred bytes
MAX_DEPTH = 40
_TOKEN = re.compile(rb'"(?:[^"\\]|\\.)*"|[\[\]{}]', re.DOTALL)


def canonical(value: Any) -> bytes:
    """Return *value* in canonical JSON (RFC 8785).

    Raises:
        ValueError: it holds what JSON cannot: a number that is not finite, half a character.
    """
    try:
        return rfc8785.dumps(value)
    except (rfc8785.CanonicalizationError, UnicodeError) as wrong:
        raise ValueError(str(wrong)) from None


def members(document: Mapping[str, Any]) -> dict[str, bytes]:
    """Return the canonical form of each member of *document*, by its name.

    Writing a large member is slow, and several things are hashed that differ only in which
    members they leave out.
    """
    return {name: canonical(value) for name, value in document.items()}


def joined(parts: Mapping[str, bytes], *without: str) -> bytes:
    """Return the canonical object of *parts*, some of them left out."""
    kept = sorted((name for name in parts if name not in without), key=_by_utf16)
    return b"{" + b",".join(canonical(name) + b":" + parts[name] for name in kept) + b"}"


def _by_utf16(name: str) -> bytes:
    return name.encode("utf-16-be")


def digest_of(value: Any) -> str:
    """Return the SHA-256 of *value* in canonical JSON, as 64 hexadecimal digits."""
    return sha256(canonical(value)).hexdigest()


def read_canonical(text: bytes, what: str = "certificate") -> Any:
    """Return the data of *text*, which must be its own canonical form to the byte.

    Every number comes back as a float, as JSON has only one kind.

    Raises:
        Refused: too_large, too_deep, not_json, duplicate_key or not_canonical.
    """
    return read_parts(text, what)[0]


def read_parts(text: bytes, what: str = "certificate") -> tuple[Any, dict[str, bytes]]:
    """Do as `read_canonical`, and return the canonical members of an object with it."""
    if len(text) > MAX_BYTES:
        raise Refused("too_large", f"{len(text):,} bytes; a {what} has at most {MAX_BYTES:,}")
    if text.count(b",") > MAX_VALUES:
        raise Refused("too_large", f"more than the {MAX_VALUES:,} values that are read of a {what}")
    if text.startswith(b"%PDF-"):
        raise Refused("not_json", f"this is a PDF; save the {what} attached to it, and check that")
    _refuse_depth(text)
    try:
        data = json.loads(
            text.decode("utf-8"),
            object_pairs_hook=_once,
            parse_int=float,
            parse_constant=_no_constant,
        )
    except (UnicodeDecodeError, json.JSONDecodeError) as wrong:
        raise Refused("not_json", f"this is no JSON in UTF-8: {wrong}") from None
    parts: dict[str, bytes] = {}
    try:
        if isinstance(data, dict):
            parts = members(data)
        same = (joined(parts) if isinstance(data, dict) else canonical(data)) == text
    except ValueError as wrong:
        raise Refused("not_json", f"this holds what JSON cannot: {wrong}") from None
    if not same:
        raise Refused(
            "not_canonical",
            f"the file is not its own RFC 8785 form to the byte: it was edited, reformatted or"
            f" given a line end after signing; ask the signer for the {what} as it was issued",
        )
    return data, parts


def _refuse_depth(text: bytes) -> None:
    """Count brackets outside strings, before anything recursive touches the text."""
    depth = 0
    for token in _TOKEN.finditer(text):
        if token[0] in (b"{", b"["):
            depth += 1
            if depth > MAX_DEPTH:
                raise Refused("too_deep", f"nested deeper than {MAX_DEPTH} levels")
        elif token[0] in (b"}", b"]"):
            depth -= 1


def _once(pairs: Sequence[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key in found:
            raise Refused("duplicate_key", f"the key {key[:80]} stands twice in one object")
        found[key] = value
    return found


def _no_constant(name: str) -> float:
    raise Refused("not_json", f"{name} is no JSON number")
