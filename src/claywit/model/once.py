"""What was worked out of a frozen value is not worked out again."""

from collections.abc import Callable
from functools import wraps
from threading import Lock
from typing import TypeVar

Given = TypeVar("Given")
Found = TypeVar("Found")


def once(most: int) -> Callable[[Callable[[Given], Found]], Callable[[Given], Found]]:
    """Remember what a function of one frozen value returned, for the last *most* values.

    A value is known by being that very value: hashing a whole model would cost more than it saves.
    """

    def remembering(function: Callable[[Given], Found]) -> Callable[[Given], Found]:
        known: dict[int, tuple[Given, Found]] = {}
        lock = Lock()

        @wraps(function)
        def remembered(value: Given) -> Found:
            with lock:
                held = known.pop(id(value), None)
                if held is None or held[0] is not value:
                    held = value, function(value)
                known[id(value)] = held  # at the end: what is asked for often outlives the rest
                if len(known) > most:
                    known.pop(next(iter(known)))
            return held[1]

        return remembered

    return remembering
