"""Models as files of other formats and back, for tests."""

from claywit.inference.flattened import flatten
from claywit.model import exchange

BIF = """network n {
}
variable a {
  type discrete [ 2 ] { yes, no };
}
variable b {
  type discrete [ 3 ] { low, mid, high };
}
probability ( a ) {
  table 0.25, 0.75;
}
probability ( b | a ) {
  (yes) 0.5, 0.25, 0.25;
  (no) 0.125, 0.125, 0.75;
}
"""


def written(model, kind):
    if kind in exchange.WHOLE:
        return exchange.write_whole(model, kind).encode()
    return exchange.WRITERS[kind](flatten(model)).encode()


def back(content, kind, targets=()):
    return exchange.read_exchanged(content, f"network.{kind}", targets)
