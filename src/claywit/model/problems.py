"""What is wrong with a model, and where: plain values that a reader can be shown."""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Problem:
    """One thing that keeps a model from being sound: a path of the file, and a sentence."""

    path: tuple[str | int, ...]
    text: str


def of_node(name: str, text: str, *path: str | int) -> Problem:
    """Return what is wrong with the node of that *name*, at a *path* below it."""
    return Problem(("nodes", name, *path), f"{name}: {text}")


def subject(node: str, given: object) -> str:
    """Return how a message names a row: by its node and the states of the parents."""
    if not isinstance(given, Mapping) or not given:
        return f"{node}: "
    shown = ", ".join(f"{k}={'|'.join(_as_list(v))}" for k, v in given.items())
    return f"{node}, given {shown}: "


def _as_list(value: object) -> list[str]:
    return [str(v)[:80] for v in (value if isinstance(value, list | tuple) else [value])]
