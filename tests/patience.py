"""How long a test waits, and what it waits for in a loop of its own."""

import asyncio
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any

# A busy machine is no fault, what never ends is.
HANGS = 300  # seconds


def in_loop(answer: Coroutine[Any, Any, Any]) -> Any:
    """Return what *answer* returns, run in a thread of its own.

    Where a test before it opened a browser, this thread has a loop already.
    """
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(asyncio.run, answer).result()
