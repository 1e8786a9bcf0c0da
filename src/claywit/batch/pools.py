"""Many calls of one function, here or elsewhere: the results come in order, a few wait at once.

Each pool is a `map` with bounded memory: it draws the next item only when there is room, and
sends what failed with its worker again.
"""

import multiprocessing
import os
import signal
import socket
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from importlib import import_module
from typing import Any, Protocol, TypeVar
from urllib.parse import urlsplit

from claywit.errors import CasesError, ClaywitError

TRIES = 5
PATIENCE = 5  # seconds to wait for a scheduler
LONGEST_GREETING = 1_000_000  # bytes of what it says first
_Item = TypeVar("_Item")
_Found = TypeVar("_Found")


class RunAll(Protocol):
    """Run a function on all items, and yield what it returns in their order."""

    def __call__(
        self, function: Callable[[_Item], _Found], items: Iterable[_Item]
    ) -> Iterator[_Found]:
        """Yield what the function returns for each item."""
        ...


def pool(workers: int, scheduler: str | None) -> AbstractContextManager[RunAll]:
    """Return the map that was asked for: a cluster's, that of some processes, or the plain one."""
    if scheduler:
        return cluster(scheduler)
    return here() if workers == 1 else processes(workers)


@contextmanager
def here() -> Iterator[RunAll]:
    """Yield the plain map: one call after the other, in this process."""

    def run_all(function: Callable[[_Item], _Found], items: Iterable[_Item]) -> Iterator[_Found]:
        return map(function, items)

    yield run_all


@contextmanager
def processes(count: int) -> Iterator[RunAll]:
    """Yield a map over *count* processes of this machine, each on one thread."""
    pools = _Pools(count)

    def run_all(function: Callable[[_Item], _Found], items: Iterable[_Item]) -> Iterator[_Found]:
        waiting: deque[tuple[_Item, Future[_Found]]] = deque()
        for item in items:
            waiting.append((item, pools.submit(function, item)))
            if len(waiting) >= 2 * count:
                yield _result(pools, function, waiting)
        while waiting:
            yield _result(pools, function, waiting)

    try:
        yield run_all
    except BaseException:
        pools.abandon()
        raise
    pools.close()


class _Pools:
    """A pool of processes, made anew when one of them has died."""

    def __init__(self, count: int) -> None:
        self._count, self.number = count, 0
        self._pool = self._new()

    def _new(self) -> ProcessPoolExecutor:
        context = multiprocessing.get_context("spawn")
        return ProcessPoolExecutor(self._count, context, initializer=_begin)

    def submit(self, function: Callable[[_Item], _Found], item: _Item) -> "Future[_Found]":
        try:
            return self._pool.submit(function, item)
        except BrokenProcessPool as died:
            lost: Future[_Found] = Future()
            lost.set_exception(died)
            return lost

    def renew(self) -> None:
        self._pool.shutdown(wait=False, cancel_futures=True)
        self._pool = self._new()

    def abandon(self) -> None:
        """Stop at once; what the processes were at is not finished."""
        self._pool.shutdown(wait=False, cancel_futures=True)
        for process in multiprocessing.active_children():
            process.terminate()

    def close(self) -> None:
        self._pool.shutdown(wait=True, cancel_futures=True)


def _begin() -> None:
    """Leave interruptions to the parent, and do not outlive it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent:
        threading.Thread(target=_end_with, args=(parent,), daemon=True).start()


def _end_with(parent: Any) -> None:
    parent.join()
    os._exit(1)


def _result(
    pools: _Pools,
    function: Callable[[_Item], _Found],
    waiting: "deque[tuple[_Item, Future[_Found]]]",
) -> _Found:
    """Return the first result; where a process died, all that wait are sent again."""
    for attempt in range(TRIES):
        try:
            found = waiting[0][1].result()
        except BrokenProcessPool:
            if attempt + 1 == TRIES:
                break
            pools.renew()
            again = [(item, pools.submit(function, item)) for item, _ in waiting]
            waiting.clear()
            waiting.extend(again)
        else:
            waiting.popleft()
            return found
    raise CasesError(f"a worker died {TRIES} times on one part; is there enough memory?")


@dataclass(frozen=True)
class _Asked:
    """A function of which an error that a user can put right comes back, and is not tried again."""

    function: Callable[[Any], Any]

    def __call__(self, item: object) -> Any:
        try:
            return self.function(item)
        except ClaywitError as wrong:
            return wrong


def _answer(found: Any) -> Any:
    if isinstance(found, ClaywitError):
        raise found
    return found


def _refuse_silent(address: str, dask: Any) -> None:
    """Refuse what is no scheduler: Dask waits for ever for a port that takes calls and is silent.

    A scheduler speaks first, and begins with the length of what it says. What Dask cannot open is
    refused here too, since a client that it has half made hangs or complains when it is let go.

    Raises:
        OSError: nothing answers within five seconds, or something else than a scheduler does.
        ValueError: it is no address, or one of TLS without certificates.
    """
    found = urlsplit(address)
    if found.scheme not in {"tcp", "tls"} or not found.hostname or not found.port:
        raise ValueError("an address is written as tcp://HOST:8786")
    if found.scheme == "tls":
        if not dask.Security().tls_ca_file:
            raise ValueError("for tls:// name the certificates in Dask's settings")
        return
    with socket.create_connection((found.hostname, found.port), PATIENCE) as line:
        said = line.recv(8)
    if not 0 < int.from_bytes(said, "little") < LONGEST_GREETING:
        raise OSError("something else than a scheduler answers there")


@contextmanager
def cluster(address: str) -> Iterator[RunAll]:
    """Yield a map over the workers of the Dask scheduler at *address*.

    The scheduler sends what a worker had begun to another when it dies.

    Raises:
        CasesError: Dask is not installed, the scheduler cannot be reached or has no worker, or a
            part failed with every worker it was sent to.
    """
    try:
        dask: Any = import_module("distributed")
    except ImportError:
        raise CasesError("a cluster needs one more package; install claywit[cluster]") from None
    try:
        _refuse_silent(address, dask)
        client = dask.Client(address, timeout=f"{PATIENCE}s", set_as_default=False)
    except (OSError, ValueError, TypeError, RuntimeError) as wrong:
        raise CasesError(f"--scheduler {address}: cannot be reached: {str(wrong)[:120]}") from None

    def run_all(function: Callable[[_Item], _Found], items: Iterable[_Item]) -> Iterator[_Found]:
        room = 2 * max(1, sum(client.nthreads().values()))
        waiting: deque[Any] = deque()
        for item in items:
            waiting.append(client.submit(_Asked(function), item, pure=False, retries=TRIES))
            if len(waiting) >= room:
                yield _answer(waiting.popleft().result())
        while waiting:
            yield _answer(waiting.popleft().result())

    with client:
        if not client.nthreads():
            raise CasesError(f"--scheduler {address}: it has no worker; start one and try again")
        try:
            yield run_all
        except dask.KilledWorker as wrong:
            raise CasesError(f"a part was lost with {TRIES} workers: {str(wrong)[:200]}") from None
