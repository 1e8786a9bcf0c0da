"""Points of edwards25519 by the plain affine law of addition: an oracle, slow and short.

The curve, its base point and the order of its group: RFC 8032, section 5.1. What is made here
are the known edge cases of verifying (classes of Chalkias, Garillot and Nikolaenko, "Taming
the many EdDSAs", 2020, from memory); every number is worked out, none is copied.
"""

from hashlib import sha512

P = 2**255 - 19
L = 2**252 + 27742317777372353535851937790883648493
D = -121665 * pow(121666, -1, P) % P
I = pow(2, (P - 1) // 4, P)  # noqa: E741 - a root of -1
ZERO = (0, 1)


def add(one, other):
    (a, b), (c, d) = one, other
    t = D * a * b * c * d % P
    x = (a * d + b * c) * pow(1 + t, -1, P)
    y = (b * d + a * c) * pow(1 - t, -1, P)
    return x % P, y % P


def times(n, point):
    found = ZERO
    while n:
        if n & 1:
            found = add(found, point)
        point, n = add(point, point), n >> 1
    return found


def x_of(y, sign):
    """Return an x of the curve with that last bit, or None."""
    square = (y * y - 1) * pow(D * y * y + 1, -1, P) % P
    x = pow(square, (P + 3) // 8, P)
    for root in (x, x * I % P):
        if root * root % P == square and (root & 1 == sign or root == 0):
            return root
        if root * root % P == square:
            return P - root
    return None


def encoded(point):
    return (point[1] | (point[0] & 1) << 255).to_bytes(32, "little")


BASE_Y = 4 * pow(5, -1, P) % P
BASE = (x_of(BASE_Y, 0), BASE_Y)


def torsion():
    """Return the eight points that eight times make the identity."""
    y = 2
    while True:
        x = x_of(y, 0)
        if x is not None:
            found = times(L, (x, y))
            if times(4, found) != ZERO:
                return [times(n, found) for n in range(8)]
        y += 1


def all_encodings(points):
    """Return every 32 bytes that a lenient reader takes for one of *points*."""
    found = set()
    for x, y in points:
        signs = {x & 1} if x else {0, 1}
        for value in (y, y + P):
            if value < 2**255:
                found |= {(value | sign << 255).to_bytes(32, "little") for sign in signs}
    return sorted(found)


def challenge(r, key, message):
    """Return the number that binds a signature to its message (RFC 8032, section 5.1.7)."""
    return int.from_bytes(sha512(r + key + message).digest(), "little") % L


def secret(seed):
    """Return a secret scalar, the point that is its public key, and its encoding."""
    a = int.from_bytes(sha512(seed).digest(), "little") % L
    return a, times(a, BASE)
