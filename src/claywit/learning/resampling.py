"""Bands around figures of a set of pieces: the set drawn again, source by source.

Volumes and pages of sources are from memory.
"""

from collections.abc import Callable, Sequence

import numpy as np

from claywit.inference.network import Floats
from claywit.inference.tree import Ints

DRAWS = 1000
BLOCK = 2_000_000  # draws times sources held at once

Statistic = Callable[[Floats], Floats]


def units(groups: Sequence[str], names: Sequence[str]) -> Ints:
    """Return the number of the source of each piece, from 0 on.

    Pieces of one group are one source, and so are pieces of one name, which are one piece
    seen twice; a piece of no group is a source of its own.
    """
    leader = list(range(len(names)))

    def find(i: int) -> int:
        while leader[i] != i:
            leader[i] = leader[leader[i]]
            i = leader[i]
        return i

    first: dict[tuple[str, str], int] = {}
    for i, (group, name) in enumerate(zip(groups, names, strict=True)):
        for key in ([("group", group)] if group else []) + [("name", name)]:
            leader[find(i)] = find(first.setdefault(key, i))
    roots = [find(i) for i in range(len(names))]
    number = {root: k for k, root in enumerate(dict.fromkeys(roots))}
    return np.array([number[root] for root in roots], dtype=np.intp)


def band_of_share(
    share: float, drawn: tuple[float, float] | None, sources: int
) -> tuple[float, float] | None:
    """Return the band of a *share* of sources, *drawn* unless it is none or all of them.

    Drawn again, a set without a miss never shows one, so there the far end is exact: what
    would give such a set once in forty. Source: Clopper & Pearson (1934), Biometrika 26:404.
    """
    if drawn is None or 0 < share < 1:
        return drawn
    reach = 0.025 ** (1 / sources)
    return (reach, 1.0) if share else (0.0, 1 - reach)


def band(
    statistic: Statistic, unit: Ints, rng: np.random.Generator, draws: int = DRAWS
) -> tuple[float, float] | None:
    """Return the middle 95 % of a figure over sets of sources drawn again with replacement.

    None where there are fewer than two sources, or the figure cannot be told for most draws.
    Source: Efron (1979), Ann. Stat. 7:1, the percentile form; drawing whole groups: Field &
    Welsh (2007), J. R. Stat. Soc. B 69:369.

    Args:
        statistic: the figure for each draw, nan where there is none, from how often each
            piece counts, shape (draws, pieces).
        unit: the source of each piece, as by `units`.
        rng: the source of chance.
        draws: how many sets are drawn.
    """
    count = int(unit.max(initial=-1)) + 1
    if count < 2:
        return None
    found = []
    step = max(1, BLOCK // max(count, len(unit)))
    for start in range(0, draws, step):
        size = min(step, draws - start)
        drawn = rng.integers(0, count, (size, count)) + count * np.arange(size)[:, np.newaxis]
        times = np.bincount(drawn.ravel(), minlength=size * count).reshape(size, count)
        found.append(statistic(times[:, unit].astype(np.float64)))
    figures = np.concatenate(found)
    told = figures[~np.isnan(figures)]
    if 2 * len(told) < draws:
        return None
    low, high = np.quantile(told, [0.025, 0.975], method="inverted_cdf")
    return float(low), float(high)
