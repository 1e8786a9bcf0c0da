"""Keys and signatures at the edges of Ed25519, where verifiers are known to disagree.

Every case is worked out in `edwards.py`. What the library takes by itself is counted too: a
check that refuses only what is refused anyway would show nothing.
"""

import pytest
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from edwards import BASE, ZERO, L, P, add, all_encodings, challenge, encoded, secret, times, torsion
from forged import golden
from made import a_signer, codes, signed_again, verify
from trials import times as often

from claywit.certificate.curve import has_small_order, is_of_prime_order
from claywit.certificate.proof import Signer, base58, from_base58, multikey

EIGHT = torsion()
SECRET, PUBLIC = secret(b"edges")
KEY = encoded(PUBLIC)


def number(value):
    return value.to_bytes(32, "little")


def by_library(key, signature, message=b"m"):
    try:
        Ed25519PublicKey.from_public_bytes(key).verify(signature, message)
    except (ValueError, InvalidSignature):
        return False
    return True


def judged(key, sign):
    """Return the code under which a certificate signed by *sign* in the name of *key* is refused."""
    signer = Signer(multikey(key), sign)
    text = signed_again(golden().text, lambda raw: raw | {"issuer": signer.did}, signer=signer)
    found = codes(verify(text, recompute=False))
    return found[0] if found else ""


def honest(message):
    r = 12345
    point = encoded(times(r, BASE))
    return point + number((r + challenge(point, KEY, message) * SECRET) % L)


def test_the_oracle_signs_as_the_library_expects():
    assert times(L, BASE) == ZERO
    assert len(set(EIGHT)) == 8
    assert by_library(KEY, honest(b"m"))
    assert judged(KEY, honest) == ""


def test_no_point_of_small_order_is_a_key(tried):
    encodings = all_encodings(EIGHT)
    taken = 0
    for key in encodings:
        assert not is_of_prime_order(key)
        assert has_small_order(key)
        assert judged(key, lambda message: encoded(ZERO) + bytes(32)) == "weak_key"
        taken += any(by_library(key, encoded(t) + bytes(32)) for t in EIGHT)
    assert taken  # by the library alone one signature fits without any secret
    tried(
        "keys of small order, in every encoding",
        len(encodings),
        f"all refused as `weak_key`; the library alone takes a made-up signature for {taken}",
    )


def test_no_key_with_a_small_part_is_taken(tried):
    taken = 0
    for small in EIGHT[1:]:
        key = encoded(add(PUBLIC, small))

        def sign(message, key=key):
            for r in range(1, 500):
                point = encoded(times(r, BASE))
                k = challenge(point, key, message)
                if k % 8 == 0:
                    return point + number((r + k * SECRET) % L)
            raise AssertionError("one in eight should do")

        assert not is_of_prime_order(key)
        assert not has_small_order(key)
        taken += by_library(key, sign(b"m"))
        assert judged(key, sign) == "weak_key"
    assert taken == 7
    tried(
        "keys with a small part, signed so that the library takes them", 7,
        f"all refused as `weak_key`; the library alone takes {taken}",
    )  # fmt: skip


def test_a_signature_has_one_form(tried):
    def larger(n):
        return lambda m: honest(m)[:32] + number(int.from_bytes(honest(m)[32:], "little") + n * L)

    def bare(point):
        return lambda m: point + number(challenge(point, KEY, m) * SECRET % L)

    cases = [larger(n) for n in range(1, 16)] + [bare(point) for point in all_encodings(EIGHT)]
    cases += [
        lambda m: bytes(64),
        lambda m: b"\xff" * 64,
        lambda m: honest(m)[:63],
        lambda m: honest(m) + b"\0",
        lambda m: honest(m)[:32],
        lambda m: b"\0",
        lambda m: number(P + 3) + honest(m)[32:],
        lambda m: number(2) + honest(m)[32:],  # no point of the curve has this y
    ]  # fmt: skip
    for sign in cases:
        assert judged(KEY, sign) == "signature_form"
    assert by_library(KEY, bare(encoded(ZERO))(b"m"))
    tried(
        "signatures in a second form: S + nL, R of small order, other lengths", len(cases),
        "all refused as `signature_form`",
    )  # fmt: skip


def test_what_only_a_verifier_that_multiplies_by_eight_takes_is_refused(tried):
    for small in EIGHT[1:]:

        def sign(message, small=small):
            r = 777
            point = encoded(add(times(r, BASE), small))
            return point + number((r + challenge(point, KEY, message) * SECRET) % L)

        assert judged(KEY, sign) == "tampered"
    tried("signatures that fit only when multiplied by eight", 7, "all refused as `tampered`")


def test_every_bit_of_a_signature_and_of_a_key_counts(tried):
    signer = a_signer()
    count, refused = often(64, 256), {}
    step = 1024 // count
    for bit in range(0, 1024, step):
        if bit < 512:
            code = judged(
                from_base58(signer.multikey)[2:],
                lambda m, bit=bit: flipped(signer.sign(m), bit),
            )
        else:
            key = flipped(from_base58(signer.multikey)[2:], bit % 256)
            code = judged(key, signer.sign)
        refused[code] = refused.get(code, 0) + 1
    assert "" not in refused
    assert set(refused) <= {"tampered", "weak_key", "signature_form"}
    said = ", ".join(f"{n:,} `{code}`" for code, n in sorted(refused.items()))
    tried("one bit of a signature or key turned", sum(refused.values()), f"all refused: {said}")


def flipped(data, bit):
    return bytes(b ^ (1 << bit % 8) if i == bit // 8 else b for i, b in enumerate(data))


@pytest.mark.parametrize("seed", range(3))
def test_an_ordinary_key_is_a_point_of_prime_order(seed):
    for n in range(often(5, 200)):
        key = from_base58(a_signer(bytes([seed * 80 + n % 80])).multikey)[2:]
        assert is_of_prime_order(key)
        assert not has_small_order(key)


def test_base58_of_a_key_is_not_a_place_to_hide():
    assert base58(from_base58(a_signer().multikey)) == a_signer().multikey
