"""Columns in variants, each with one finding left out, and how variants are kept few.

Many findings may say something of one variable of few states: all traits say what lay over the
piece. What they say is a number for each state, and all that follows is linear in these numbers.
So the way up is worked once for each state, as if it alone were possible; such findings stay
*open*. Only where something else that a finding says enters, a sum over the states turns them
into the variant without it.
"""

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace

import numpy as np

from claywit.inference.tree import Floats, Ints

# What is left out in each variant of a column; nothing in the first.
Variants = tuple[int, ...]
WHOLE = -1


def among(variants: Variants, held: Variants) -> Ints:
    """Return for each variant its place among those *held*, or that of the whole."""
    places = {variant: i for i, variant in enumerate(held)}
    return np.array([places.get(variant, 0) for variant in variants], dtype=np.intp)


@dataclass(frozen=True)
class Open:
    """Findings that were not yet left out: variants for the states of what they speak of.

    states: the variants that stand for the states. findings: those that are open.
    shares: what the sum for each finding takes of each state, shape (states, findings, columns).
    """

    states: Variants
    findings: Variants
    shares: Floats

    def of(self, findings: Variants) -> Floats:
        """Return the shares of some findings."""
        taken: Floats = self.shares[:, [self.findings.index(finding) for finding in findings]]
        return taken


@dataclass(frozen=True)
class Held:
    """The variants that there are of something, and the findings that are open in it."""

    variants: Variants
    open: tuple[Open, ...] = ()

    @property
    def findings(self) -> frozenset[int]:
        """Return all findings that were left out of it, or are open."""
        states = {state for each in self.open for state in each.states}
        left_out = set(self.variants) - states - {WHOLE}
        return frozenset(left_out.union(*(each.findings for each in self.open)))

    def meeting(self, other: "Held") -> "Held":
        """Return what the product of two holds, of which neither needs a turn."""
        more = (variant for variant in other.variants if variant not in self.variants)
        return Held((*self.variants, *more), (*self.open, *other.open))


@dataclass(frozen=True)
class Turn:
    """Open findings that are left out by a sum over the states.

    findings: which. states: the variants that are summed. shares: as of `Open`.
    """

    findings: Variants
    states: Variants
    shares: Floats


def turns(held: Held, needed: Collection[int]) -> Iterator[tuple[Turn, Held]]:
    """Yield what it takes until no finding *needed* is open, each time with what is held then.

    Where no more findings would stay open than there are states, all are left out.
    """
    for each in held.open:
        made = tuple(finding for finding in each.findings if finding in needed)
        if not made:
            continue
        if len(each.findings) - len(made) <= len(each.states):
            made = each.findings
        rest = tuple(finding for finding in each.findings if finding not in made)
        gone = () if rest else each.states
        kept = tuple(variant for variant in held.variants if variant not in gone)
        left = [replace(each, findings=rest, shares=each.of(rest))] if rest else []
        others = (other for other in held.open if other is not each)
        held = Held((*kept, *made), (*left, *others))
        yield Turn(made, each.states, each.of(made)), held
