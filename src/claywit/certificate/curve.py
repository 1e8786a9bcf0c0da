"""Which 32 bytes can be a point of a sound Ed25519 key or signature.

RFC 8032 lets verifiers differ where a point has a small part: one that multiplies by eight
first accepts what another refuses. A key of the group of prime order has no such part, so
what is accepted under it here is accepted by every verifier (the differences are laid out by
Chalkias, Garillot and Nikolaenko, "Taming the many EdDSAs", 2020; cited from memory).
"""

PRIME = 2**255 - 19
ORDER = 2**252 + 27742317777372353535851937790883648493
CURVE = -121665 * pow(121666, -1, PRIME) % PRIME
ROOT = pow(2, (PRIME - 1) // 4, PRIME)  # of -1

Point = tuple[int, int, int, int]  # X, Y, Z, T: x = X/Z, y = Y/Z, xy = T/Z
IDENTITY: Point = (0, 1, 1, 0)


def is_of_prime_order(encoded: bytes) -> bool:
    """Return whether *encoded* is the one encoding of a point of prime order.

    No encoding with a y or a sign out of range, no point off the curve, none with a small
    part, and not the identity.
    """
    point = _decoded(encoded)
    return point is not None and not _is_identity(point) and _is_identity(_times(ORDER, point))


def has_small_order(encoded: bytes) -> bool:
    """Return whether *encoded* is no point, or one that eight times makes the identity."""
    point = _decoded(encoded)
    return point is None or _is_identity(_times(8, point))


def _decoded(encoded: bytes) -> Point | None:
    """Return the point of *encoded*, or None if it encodes none (RFC 8032, section 5.1.3)."""
    number = int.from_bytes(encoded, "little")
    sign, y = number >> 255, number & (2**255 - 1)
    if len(encoded) != 32 or y >= PRIME:
        return None
    u, v = (y * y - 1) % PRIME, (CURVE * y * y + 1) % PRIME
    x = u * pow(v, 3, PRIME) * pow(u * pow(v, 7, PRIME), (PRIME - 5) // 8, PRIME) % PRIME
    if (v * x * x - u) % PRIME:
        x = x * ROOT % PRIME
    if (v * x * x - u) % PRIME or (x == 0 and sign):
        return None
    x = x if x & 1 == sign else PRIME - x
    return x, y, 1, x * y % PRIME


def _times(factor: int, point: Point) -> Point:
    found = IDENTITY
    for bit in f"{factor:b}":
        found = _sum(found, found)
        if bit == "1":
            found = _sum(found, point)
    return found


def _sum(one: Point, other: Point) -> Point:
    """Return the sum of two points (RFC 8032, section 5.1.4; complete, so for equal ones too)."""
    a = (one[1] - one[0]) * (other[1] - other[0]) % PRIME
    b = (one[1] + one[0]) * (other[1] + other[0]) % PRIME
    c = 2 * one[3] * other[3] * CURVE % PRIME
    d = 2 * one[2] * other[2] % PRIME
    e, f, g, h = b - a, d - c, d + c, b + a
    return e * f % PRIME, g * h % PRIME, f * g % PRIME, e * h % PRIME


def _is_identity(point: Point) -> bool:
    x, y, z, _ = point
    return x % PRIME == 0 and (y - z) % PRIME == 0
