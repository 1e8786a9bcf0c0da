"""The server under the bench."""

import asyncio
import socket
from collections.abc import Callable

import uvicorn
from starlette.types import ASGIApp

from claywit.bench.patience import Patient

GOODBYE = 3  # seconds for the last answers, once the bench is closed


class _Server(uvicorn.Server):
    """A server that says when it is there."""

    def __init__(self, config: uvicorn.Config, opened: Callable[[], None]) -> None:
        super().__init__(config)
        self.opened = opened

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.started:
            await asyncio.to_thread(self.opened)


def serve(app: ASGIApp, sockets: list[socket.socket], opened: Callable[[], None]) -> None:
    """Answer on *sockets* until interrupted; call *opened* once it is there."""
    config = uvicorn.Config(
        app,
        http=Patient,  # of h11: the cap on heads below is its own
        access_log=False,
        log_level="warning",
        server_header=False,
        date_header=False,
        proxy_headers=False,
        ws="none",
        lifespan="off",
        h11_max_incomplete_event_size=32_768,
        timeout_keep_alive=5,
        timeout_graceful_shutdown=GOODBYE,
    )
    try:
        _Server(config, opened).run(sockets)
    except KeyboardInterrupt:
        return
