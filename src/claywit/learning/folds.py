"""Parts of a set of pieces, so that no piece is ever judged by a model that has seen it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from claywit.errors import CasesError
from claywit.inference.tree import Ints
from claywit.learning.resampling import units


@dataclass(frozen=True)
class Fold:
    """One part of the pieces, to be judged by what is learned from all others.

    part_of: the number of the part of each piece, the same array for all folds: rows for each
    of them would take the square of the pieces. number: of this part.
    """

    name: str
    part_of: Ints
    number: int

    @property
    def learn(self) -> Ints:
        """Return the rows to learn from, rising; no source of theirs is judged."""
        return np.flatnonzero(self.part_of != self.number)

    @property
    def judge(self) -> Ints:
        """Return the rows to judge, rising."""
        return np.flatnonzero(self.part_of == self.number)


def by_group(groups: Sequence[str], names: Sequence[str]) -> tuple[Fold, ...]:
    """Return one fold for each group, and one for each piece that is in none.

    Raises:
        CasesError: there are no groups, or only one.
    """
    if not any(groups):
        raise CasesError(
            "no piece names its group; add a column `group`, or leave out pieces by --one-out"
        )
    return one_out(groups, names)


def one_out(groups: Sequence[str], names: Sequence[str]) -> tuple[Fold, ...]:
    """Return one fold for each source, which is a group, or a piece that is in none.

    Raises:
        CasesError: there is only one source.
    """
    unit = units(groups, names)
    if unit.max(initial=0) < 1:
        raise CasesError("all pieces are of one source, so nothing is left to learn from")
    labels = {int(u): groups[i] or names[i] for i, u in reversed(list(enumerate(unit)))}
    return _checked(unit, unit, [labels[u] for u in range(len(labels))])


def in_parts(
    groups: Sequence[str], names: Sequence[str], truth: Ints, *, count: int, seed: int
) -> tuple[Fold, ...]:
    """Return *count* folds of nearly equal size, the states of the truth spread over them.

    Sources stay whole. Neither the order of the rows nor anything but *seed* sets who goes
    where: sources are dealt out state by state, in an order drawn from their sorted names,
    each to the fold that has the fewest of its state, then the fewest pieces.

    Args:
        groups: of each piece, "" where it has none.
        names: of each piece.
        truth: the true state of each piece, -1 where it is not known.
        count: how many folds.
        seed: of the drawing.

    Raises:
        CasesError: there are fewer sources than folds, or fewer than two folds.
    """
    unit = units(groups, names)
    sources = int(unit.max(initial=-1)) + 1
    if not 2 <= count <= sources:
        way = f"choose between 2 and {sources}" if sources > 1 else "two at least are needed"
        said = f"{sources} source{'' if sources == 1 else 's'}"
        raise CasesError(f"{count} folds of {said}; {way}")
    fold_of = _deal(unit, _order(groups, names, unit, seed), truth, count)
    return _checked(fold_of[unit], unit, [f"{k + 1} of {count}" for k in range(count)])


def _order(groups: Sequence[str], names: Sequence[str], unit: Ints, seed: int) -> list[int]:
    """Return the sources in an order that is drawn, and that the rows' order does not set."""
    called: dict[int, tuple[str, str]] = {}
    for i, u in enumerate(unit):
        key = (groups[i], names[i])
        called[int(u)] = min(key, called.get(int(u), key))
    ranked = sorted(called, key=lambda u: called[u])
    drawn = np.random.default_rng(seed).permutation(len(ranked))
    return [ranked[i] for i in drawn]


def _deal(unit: Ints, order: list[int], truth: Ints, count: int) -> Ints:
    """Return the fold of each source, the rarest states dealt out first."""
    states = int(truth.max(initial=-1)) + 2
    held = np.zeros((int(unit.max()) + 1, states), dtype=np.intp)
    np.add.at(held, (unit, truth + 1), 1)
    frequent = held.sum(axis=0)
    main = [min((int(frequent[k]), int(k)) for k in np.flatnonzero(row)) for row in held]
    sizes = held.sum(axis=1).tolist()
    filled, total = np.zeros((states, count), dtype=np.intp), np.zeros(count, dtype=np.intp)
    fold_of = np.zeros(len(held), dtype=np.intp)
    # The largest sources of a state first: they are the hardest to spread.
    for u in sorted(order, key=lambda u: (main[u], -sizes[u])):
        # The first that has the fewest of the state, then the fewest pieces.
        fold = int(np.argmin(filled[main[u][1]] * (len(unit) + 1) + total))
        fold_of[u] = fold
        filled[:, fold] += held[u]
        total[fold] += sizes[u]
    return fold_of


def _checked(fold_of: Ints, unit: Ints, labels: Sequence[str]) -> tuple[Fold, ...]:
    source_and_part = np.unique(np.stack([unit, fold_of]), axis=1)
    if source_and_part.shape[1] > int(unit.max()) + 1:
        raise ArithmeticError("a source is in two parts")  # our bug
    return tuple(Fold(label, fold_of, k) for k, label in enumerate(labels))
