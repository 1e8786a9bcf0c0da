"""Whose turn it is: long work one at a time, what stands beside a key first, then the newest.

What somebody asked for last is what they wait for now. So it is begun before all that was asked
earlier, and where the work under way can be broken off, it is, and begun again later. What stands
beside a key gives way to nothing: it takes a second, and would else never come while one types.
"""

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from itertools import count
from typing import Any, TypeVar

from claywit.bench.judge import Dropped

R = TypeVar("R")
LOOKS = 0.05  # seconds between two looks whether work has left off
Drop = Callable[[], None]


@dataclass(eq=False)
class _Work:
    """What is to be done, or is; *answer* is what somebody waits for."""

    call: Callable[[], Any]
    drop: Drop | None
    is_first: bool
    asked: int
    answer: "asyncio.Future[Any]"
    stops: asyncio.Event = field(default_factory=asyncio.Event)

    @property
    def gives_way(self) -> bool:
        """Return whether it is broken off for what is asked later."""
        return self.drop is not None and not self.is_first


class Turns:
    """The turns of one thread, which works for one question at a time."""

    def __init__(self) -> None:
        """Have nothing to do."""
        self._thread = ThreadPoolExecutor(1)
        self._waiting: list[_Work] = []
        self._going: _Work | None = None
        self._asked = count()

    async def take(
        self, call: Callable[[], R], drop: Drop | None = None, *, is_first: bool = False
    ) -> R:
        """Return what *call* returns, once it is its turn; *drop* breaks it off.

        is_first: it stands beside a key. Cancelled before its turn it is never begun; else it is
        broken off where it can be, and holds its turn until it has left off.
        """
        answer: asyncio.Future[R] = asyncio.get_running_loop().create_future()
        work = _Work(call, drop, is_first, next(self._asked), answer)
        self._waiting.append(work)
        if self._going and self._going.gives_way:
            self._going.stops.set()
        self._begin_next()
        try:
            return await asyncio.shield(answer)
        except asyncio.CancelledError:
            answer.cancel()
            if work in self._waiting:
                self._waiting.remove(work)
            elif self._going is work:
                work.stops.set()
                await asyncio.wait({self._ended})
            raise

    def _begin_next(self) -> None:
        if self._going is None and self._waiting:
            newest = max(self._waiting, key=lambda work: (work.is_first, work.asked))
            self._waiting.remove(newest)
            self._going = newest
            self._ended = asyncio.ensure_future(self._go(newest))

    async def _go(self, work: _Work) -> None:
        found = asyncio.get_running_loop().run_in_executor(self._thread, work.call)
        stops = asyncio.ensure_future(work.stops.wait())
        await asyncio.wait({found, stops}, return_when=asyncio.FIRST_COMPLETED)
        while not found.done():
            if work.drop:
                work.drop()  # again: a signal that comes before the work has begun is lost
            await asyncio.wait({found}, timeout=LOOKS)
        stops.cancel()
        self._going = None
        self._told(work, found)
        self._begin_next()

    def _told(self, work: _Work, found: "asyncio.Future[Any]") -> None:
        """Give the answer to whoever waits for it; work that gave way waits for another turn."""
        wrong = found.exception()
        if work.answer.done():  # nobody waits any more
            return
        if isinstance(wrong, Dropped) and work.stops.is_set():
            work.stops.clear()
            self._waiting.append(work)
        elif wrong is not None:
            work.answer.set_exception(wrong)
        else:
            work.answer.set_result(found.result())
