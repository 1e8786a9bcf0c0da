"""What is wrong with a model, and where: plain values that a reader can be shown."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Problem:
    """One thing that keeps a model from being sound: a path of the file, and a sentence."""

    path: tuple[str | int, ...]
    text: str


def of_node(name: str, text: str, *path: str | int) -> Problem:
    """Return what is wrong with the node of that *name*, at a *path* below it."""
    return Problem(("nodes", name, *path), f"{name}: {text}")
