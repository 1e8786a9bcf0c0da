"""Walks over names: everything that can be reached from some of them."""

from collections.abc import Callable, Iterable


def reached(names: Iterable[str], near: Callable[[str], Iterable[str]]) -> frozenset[str]:
    """Return *names* and all that is reached from them by steps to what is *near*."""
    found: set[str] = set()
    waiting = list(names)
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            waiting += near(name)
    return frozenset(found)
