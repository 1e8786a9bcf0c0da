"""Rounds of a fit carried on in the direction in which they go, so that fewer will do.

From three points on the way of plain rounds a squared step is taken (SQUAREM, Varadhan & Roland
2008, scheme S3, from memory). The fit keeps it only if it climbs at least as high as the plain
rounds did, so the climb stays monotone and ends where it would have ended.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from claywit.inference.densities import Located
from claywit.inference.network import Floats, Network, Sizes, gate_table
from claywit.learning.numbers import Numbers, Start

FARTHEST = 4.0  # plain steps at once, to begin with
LEAST = 0.1  # of its old value, to which the root of a share may fall


@dataclass(frozen=True)
class Leap:
    """Where three points led, and over how many plain steps at once."""

    numbers: Numbers
    far: float


def leapt(start: Start, points: tuple[Numbers, Numbers, Numbers], farthest: float) -> Leap | None:
    """Return where three points in a row lead, or None where they lead nowhere new.

    Args:
        start: where the fit began.
        points: each a plain round after the one before.
        farthest: the most plain steps to take at once.
    """
    first, second, third = (_vector(start, point) for point in points)
    step, bend = second - first, (third - second) - (second - first)
    length, turn = float(np.linalg.norm(step)), float(np.linalg.norm(bend))
    far = min(length / turn, farthest) if turn > 0 else farthest
    if length == 0 or far <= 1:
        return None
    return Leap(_numbers(start, points[2], first + 2 * far * step + far**2 * bend), far)


def _vector(start: Start, now: Numbers) -> Floats:
    """Return the numbers as one vector: roots of shares, logs of spreads, scaled locations.

    The roots of shares move about as far as the pieces can tell them apart.
    """
    return np.concatenate([part.ravel() for part in _parts(start, now)] or [np.zeros(0)])


def _parts(start: Start, now: Numbers) -> Iterator[Floats]:
    was = start.numbers.network
    for shares in now.shares.values():
        yield np.sqrt(shares)
    for parts in now.parts.values():
        yield from (np.sqrt(part) for part in parts)
    for name in sorted(start.sighted):
        hiding = now.network.hiding[name]
        yield np.sqrt(hiding)
        yield np.sqrt(1 - hiding)
    for name, rows in now.network.densities.items():
        for elicited, row in zip(was.densities[name], rows, strict=True):
            yield np.array([row.at / elicited.scale, np.log(row.scale)])
    for name, held in now.network.sizes.items():
        usual = np.median(was.sizes[name].sd)
        yield np.log(held.cavity) / usual
        yield held.mean / usual
        yield np.log(held.sd)
        yield held.unfiled_at / was.sizes[name].unfiled_sd
        yield np.log(held.unfiled_sd)


def _numbers(start: Start, like: Numbers, vector: Floats) -> Numbers:
    """Return the numbers that a vector stands for, with the zeros of *like*."""
    was, left = start.numbers.network, iter(np.split(vector, _ends(start, like)))

    def shares(old: Floats) -> Floats:
        found = np.maximum(next(left).reshape(old.shape), LEAST * np.sqrt(old)) ** 2
        moved: Floats = found / found.sum(axis=-1, keepdims=True)
        return moved

    network = like.network
    rows = {name: shares(old) for name, old in like.shares.items()}
    parts = {name: tuple(shares(p) for p in old) for name, old in like.parts.items()}
    tables = {
        **network.rows,
        **{name: table[network.row_index[name]] for name, table in rows.items()},
        **{name: gate_table(each) for name, each in parts.items()},
    }
    # What is left of the vector, in the order in which `_parts` wrote it.
    hiding = {**network.hiding, **dict(_hiding(start, network.hiding, left))}
    densities = dict(_densities(was, network, left))
    sizes = dict(_sizes(was, network, left))
    moved_network = replace(network, rows=tables, hiding=hiding, densities=densities, sizes=sizes)
    return Numbers(moved_network, rows, parts)


def _hiding(
    start: Start, stands: Mapping[str, Floats], left: Iterator[Floats]
) -> Iterator[tuple[str, Floats]]:
    for name in sorted(start.sighted):
        old = stands[name]
        hidden, seen = (
            np.maximum(next(left), LEAST * np.sqrt(share)) ** 2 for share in (old, 1 - old)
        )
        share = hidden / (hidden + seen)
        yield name, np.maximum.accumulate(share) if start.rises(name) else share


def _densities(
    was: Network, stands: Network, left: Iterator[Floats]
) -> Iterator[tuple[str, tuple[Located, ...]]]:
    for name, rows in stands.densities.items():
        moved = []
        for elicited, row in zip(was.densities[name], rows, strict=True):
            at, log_scale = next(left)
            moved.append(replace(row, at=at * elicited.scale, scale=np.exp(log_scale)))
        yield name, tuple(moved)


def _sizes(was: Network, stands: Network, left: Iterator[Floats]) -> Iterator[tuple[str, Sizes]]:
    for name, held in stands.sizes.items():
        usual = np.median(was.sizes[name].sd)
        yield (
            name,
            Sizes(
                np.exp(next(left) * usual).reshape(held.cavity.shape),
                next(left) * usual,
                np.exp(next(left)),
                next(left).reshape(held.unfiled_at.shape) * was.sizes[name].unfiled_sd,
                np.exp(next(left)).reshape(held.unfiled_sd.shape),
            ),
        )


def _ends(start: Start, like: Numbers) -> list[int]:
    ends: list[int] = np.cumsum([part.size for part in _parts(start, like)])[:-1].tolist()
    return ends
