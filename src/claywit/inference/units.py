"""Where it pays to leave findings out by the states of a variable rather than one by one.

Many findings may say something of one variable of few states: all traits say what lay over the
piece. What they say is a number for each state, and all that follows is linear in these numbers.
So the way up is worked once for each state, as if it alone were possible, as far as nothing
else of these findings enters; from there on each finding left out is a sum of these few.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from claywit.inference.tree import Ints, Tree


@dataclass(frozen=True)
class Unit:
    """A group of slots that is worked by states.

    singly: the findings that are left out one by one all the same, since something else that
        they say enters on the way. summed: those that are not.
    states: the numbers of the variants that stand for the states.
    last: the bucket that is the last to be worked so.
    """

    singly: tuple[int, ...]
    summed: tuple[int, ...]
    states: tuple[int, ...]
    last: int


def units(tree: Tree, owner: Ints, sizes: Sequence[Sequence[int]]) -> dict[tuple[int, int], Unit]:
    """Return the groups that it pays to work by states, by their bucket and place there.

    Args:
        tree: the compiled tree.
        owner: the number of the finding that each slot belongs to.
        sizes: for each bucket and each of its groups of slots how many states their tables have,
            those among them that cannot occur.
    """
    above = {child: b for b, bucket in enumerate(tree.buckets) for child, _ in bucket.children}
    slots = _slots_below(tree)
    free, found = int(owner.max(initial=-1)) + 1, dict[tuple[int, int], Unit]()
    for b, bucket in enumerate(tree.buckets):
        for place, (members, _) in enumerate(bucket.slots):
            own = {int(owner[slot]) for slot in members}
            states = sizes[b][place]
            unit: Unit | None = None
            last = b
            while last in above:
                others = {int(owner[slot]) for slot in slots[last] - set(members)}
                if 2 * (states + len(own & others)) > len(own):
                    break
                numbers = tuple(range(free, free + states))
                unit = Unit(tuple(sorted(own & others)), tuple(sorted(own - others)), numbers, last)
                last = above[last]
            if unit:
                found[b, place] = unit
                free += states
    return found


def _slots_below(tree: Tree) -> list[set[int]]:
    """Return for each bucket the slots that enter there or below."""
    found: list[set[int]] = []
    for bucket in tree.buckets:
        own = {slot for members, _ in bucket.slots for slot in members}
        found.append(own.union(*(found[child] for child, _ in bucket.children)))
    return found
