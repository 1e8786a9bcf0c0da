"""Where it pays to leave findings out by the states of a variable rather than one by one."""

from collections.abc import Sequence
from dataclasses import dataclass

from claywit.inference.tree import Ints, Tree
from claywit.inference.variants import Variants


@dataclass(frozen=True)
class Unit:
    """A group of slots that is worked by states.

    findings: those of the slots. states: the numbers of the variants that stand for the states.
    """

    findings: Variants
    states: Variants


def units(tree: Tree, owner: Ints, sizes: Sequence[Sequence[int]]) -> dict[tuple[int, int], Unit]:
    """Return the groups that it pays to work by states, by their bucket and place there.

    That is where few states stand for many findings that say nothing else in the bucket or below.

    Args:
        tree: the compiled tree.
        owner: the number of the finding that each slot belongs to.
        sizes: for each bucket and each of its groups of slots how many states their tables have,
            those among them that cannot occur.
    """
    slots = _slots_below(tree)
    free, found = int(owner.max(initial=-1)) + 1, dict[tuple[int, int], Unit]()
    for b, bucket in enumerate(tree.buckets[:-1]):
        for place, (members, _) in enumerate(bucket.slots):
            own = {int(owner[slot]) for slot in members}
            others = {int(owner[slot]) for slot in slots[b] - set(members)}
            states = sizes[b][place]
            if 2 * (states + len(own & others)) <= len(own):
                numbers = tuple(range(free, free + states))
                found[b, place] = Unit(tuple(sorted(own)), numbers)
                free += states
    return found


def _slots_below(tree: Tree) -> list[set[int]]:
    """Return for each bucket the slots that enter there or below."""
    found: list[set[int]] = []
    for bucket in tree.buckets:
        own = {slot for members, _ in bucket.slots for slot in members}
        found.append(own.union(*(found[child] for child, _ in bucket.children)))
    return found
