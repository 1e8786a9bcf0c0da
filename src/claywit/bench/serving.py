"""The server under the bench."""

import asyncio
import socket
from collections.abc import Callable
from contextlib import suppress

import uvicorn
from starlette.types import ASGIApp

from claywit.bench.patience import Patient
from claywit.errors import ClaywitError

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


def listen(port: int) -> list[socket.socket]:
    """Return sockets on loopback only, of both kinds of address where there are both.

    They say that they are of TCP: only then asyncio lets no part of an answer wait for the browser
    to acknowledge the part before, which takes it 40 ms.

    Raises:
        ClaywitError: the port is taken.
    """
    first = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    first.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        first.bind(("127.0.0.1", port))
    except OSError as wrong:
        first.close()
        raise ClaywitError(
            f"port {port} of this machine cannot be used: {wrong.strerror}; leave --port out"
        ) from None
    found = [first]
    with suppress(OSError):  # a machine without IPv6, or the port taken there
        second = socket.socket(socket.AF_INET6, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        second.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
        second.bind(("::1", first.getsockname()[1]))
        found.append(second)
    return found
