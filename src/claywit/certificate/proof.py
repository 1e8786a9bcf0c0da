"""Data Integrity proofs of the cryptosuite eddsa-jcs-2022, with did:key verification methods.

Sources: W3C Recommendations "Data Integrity EdDSA Cryptosuites v1.0" (section 3.3,
eddsa-jcs-2022), "Verifiable Credential Data Integrity 1.0" and "Controlled Identifiers v1.0"
(Multikey); RFC 8032 (Ed25519); RFC 8785. Their published vectors are tests, byte for byte.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from hashlib import sha256
from typing import Any

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from claywit.certificate.canonical import canonical, joined
from claywit.certificate.curve import ORDER, has_small_order, is_of_prime_order
from claywit.certificate.outcome import Refused

SUITE = "eddsa-jcs-2022"
ALPHABET = "123456789ABCDEFGHJKLMNPQRSTUVWXYZabcdefghijkmnopqrstuvwxyz"
PUBLIC = b"\xed\x01"  # the multicodec of an Ed25519 public key, as a varint
DID = "did:key:"
LONGEST = 128  # no multibase text here is longer; decoding takes time by the square

Document = Mapping[str, Any]


@dataclass(frozen=True)
class Signer:
    """Who signs: the Multikey of the public key, and a way to sign bytes with the private one.

    The private key itself stays where it was read, so that no message can show it.
    """

    multikey: str
    sign: Callable[[bytes], bytes] = field(repr=False)

    @property
    def did(self) -> str:
        """Return the signer's did:key."""
        return DID + self.multikey


def base58(data: bytes) -> str:
    """Return *data* in base58btc, with its multibase prefix z."""
    number = int.from_bytes(data, "big")
    digits = ""
    while number:
        number, rest = divmod(number, 58)
        digits = ALPHABET[rest] + digits
    return "z" + "1" * (len(data) - len(data.lstrip(b"\0"))) + digits


def from_base58(text: str) -> bytes:
    """Return the bytes of a multibase base58btc *text*.

    Raises:
        ValueError: it is not of that form.
    """
    digits = text[1:]
    if text[:1] != "z" or not digits or len(text) > LONGEST or set(digits) - set(ALPHABET):
        raise ValueError("not multibase base58btc: z and then base58 digits")
    number = 0
    for digit in digits:
        number = number * 58 + ALPHABET.index(digit)
    zeros = len(digits) - len(digits.lstrip("1"))
    return b"\0" * zeros + number.to_bytes((number.bit_length() + 7) // 8, "big")


def multikey(public: bytes) -> str:
    """Return the Multikey of an Ed25519 public key of 32 bytes: z6Mk and so on."""
    return base58(PUBLIC + public)


def public_key(key: str) -> bytes:
    """Return the 32 bytes of an Ed25519 public key from its Multikey.

    Raises:
        ValueError: it is no such key, or one under which verifiers could disagree.
    """
    decoded = from_base58(key)
    if decoded[:2] != PUBLIC or len(decoded) != 34:
        raise ValueError("not the Multikey of an Ed25519 public key, which begins with z6Mk")
    if not is_of_prime_order(decoded[2:]):
        raise ValueError(
            "a public key that is no point of prime order in its one encoding, under which a"
            " signature proves nothing or not to everybody"
        )
    return decoded[2:]


def hash_data(document: Document, options: Document) -> bytes:
    """Return the 64 bytes that are signed: the hash of the options, then of the document."""
    return sha256(canonical(options)).digest() + sha256(canonical(document)).digest()


def with_proof(document: Document, signer: Signer, created: str) -> dict[str, Any]:
    """Return *document* with a proof by *signer*; *created* is the signer's own word."""
    options = {
        "type": "DataIntegrityProof",
        "cryptosuite": SUITE,
        "created": created,
        "verificationMethod": f"{signer.did}#{signer.multikey}",
        "proofPurpose": "assertionMethod",
        "@context": document["@context"],
    }
    value = base58(signer.sign(hash_data(document, options)))
    return {**document, "proof": {**options, "proofValue": value}}


def refuse_unsigned(proof: Document, parts: Mapping[str, bytes], key: str) -> None:
    """Refuse a document in canonical *parts* whose *proof* is no signature of it by *key*.

    Raises:
        Refused: weak_key, signature_form or tampered.
    """
    try:
        public = public_key(key)
    except ValueError as wrong:
        raise Refused("weak_key", f"its key is not one to trust: {wrong}") from None
    signature = _signature(proof["proofValue"])
    options = {name: value for name, value in proof.items() if name != "proofValue"}
    data = sha256(canonical(options)).digest() + sha256(joined(parts, "proof")).digest()
    try:
        Ed25519PublicKey.from_public_bytes(public).verify(signature, data)
    except InvalidSignature:
        raise Refused(
            "tampered", "the signature does not fit: something was changed after signing"
        ) from None


def _signature(text: str) -> bytes:
    """Return the 64 bytes of a signature that every verifier reads alike."""
    try:
        found = from_base58(text)
    except ValueError as wrong:
        raise Refused("signature_form", f"its signature is {wrong}") from None
    if len(found) != 64:
        raise Refused("signature_form", f"its signature has {len(found)} bytes, must be 64")
    if int.from_bytes(found[32:], "little") >= ORDER:
        raise Refused("signature_form", "its signature is a second form of another (S too large)")
    if has_small_order(found[:32]):
        raise Refused("signature_form", "its signature holds a point that proves nothing (R)")
    return found
