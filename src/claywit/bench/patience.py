"""How long a connection may keep the bench waiting, and how many there may be.

Anybody on the machine can open connections, without any secret. One that asks nothing, asks a
letter at a time, or never takes its answer is closed; where there are too many, the one that has
waited longest for nothing goes first, so that a browser is still let in.
"""

import asyncio
from typing import Any, cast

from uvicorn.protocols.http.h11_impl import H11Protocol

ASKS = 10.0  # seconds for the head of a request to be whole, from the first or the last answer
TAKES = 30.0  # seconds in which some of an answer that waits has to be taken
MOST = 256  # connections; a system often lets a program have a thousand open files


class Patient(H11Protocol):
    """One connection, waited for so long and no longer."""

    asks, takes, most = ASKS, TAKES, MOST
    asking: asyncio.TimerHandle | None = None
    taking: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Wait for a request; make room where there are too many."""
        super().connection_made(transport)
        self._wait_to_be_asked()
        if len(self.connections) > self.most:
            others = cast("set[Patient]", self.connections)
            idle = [other for other in others if other.asking and not other.transport.is_closing()]
            min(idle, key=lambda other: cast("Any", other.asking).when()).transport.abort()

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait no more."""
        self._was_asked()
        self.resume_writing()
        super().connection_lost(exc)

    def handle_events(self) -> None:
        """Wait no more for a request that is there."""
        super().handle_events()
        if self.cycle and not self.cycle.response_complete:
            self._was_asked()

    def on_response_complete(self) -> None:
        """Wait for the next request."""
        if not self.transport.is_closing():
            self._wait_to_be_asked()
        super().on_response_complete()

    def pause_writing(self) -> None:
        """Wait for some of the answer to be taken."""
        super().pause_writing()
        self.taking = self.loop.call_later(self.takes, self.transport.abort)

    def resume_writing(self) -> None:
        """Wait no more: some of it was taken."""
        super().resume_writing()
        if self.taking:
            self.taking.cancel()
            self.taking = None

    def _wait_to_be_asked(self) -> None:
        self._was_asked()
        # Not `close`, which would wait for what was never taken.
        self.asking = self.loop.call_later(self.asks, self.transport.abort)

    def _was_asked(self) -> None:
        if self.asking:
            self.asking.cancel()
            self.asking = None
