"""What lies on the desk: the model, the casebook, the drafts; and how much is done at a time."""

import asyncio
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from functools import partial
from pathlib import Path
from random import Random
from typing import Concatenate, ParamSpec, TypeVar

from claywit.bench.judge import Judge
from claywit.certificate.verify import Verdict
from claywit.errors import ClaywitError
from claywit.model.schema import Model
from claywit.records.alone import alone
from claywit.report.report import Report
from claywit.report.standards import Standards

P = ParamSpec("P")
R = TypeVar("R")
AT_A_TIME = 2  # questions that are worked on at the same time
REMEMBERED = 8  # reports
UPLOADS = 1  # photographs that are in memory at the same time
LOOKS = 0.05  # seconds between two looks whether the judge has left off


@dataclass(frozen=True)
class Desk:
    """All that the pages share.

    drafts: the folder of the readings that are not locked yet. now: the clock.
    page_key: what a page must show to change something; see `guard`. turn: see `changing`.
    judging: the process that judges; without one that is done here.
    """

    model: Model
    standards: Standards
    casebook: Path
    drafts: Path
    now: Callable[[], datetime]
    rng: Random
    page_key: str
    judging: Judge | None = None
    turn: threading.Lock = field(default_factory=threading.Lock)
    studies: asyncio.Semaphore = field(default_factory=lambda: asyncio.Semaphore(1))
    studying: ThreadPoolExecutor = field(default_factory=lambda: ThreadPoolExecutor(1))
    savers: ThreadPoolExecutor = field(default_factory=lambda: ThreadPoolExecutor(1))
    workers: ThreadPoolExecutor = field(default_factory=lambda: ThreadPoolExecutor(AT_A_TIME))
    uploads: asyncio.Semaphore = field(default_factory=lambda: asyncio.Semaphore(UPLOADS))

    reports: OrderedDict[Hashable, Report] = field(default_factory=OrderedDict)
    verdicts: OrderedDict[str, Verdict] = field(default_factory=OrderedDict)
    pictures: OrderedDict[str, bytes] = field(default_factory=OrderedDict)

    @contextmanager
    def changing(self) -> Iterator[None]:
        """Be the only one from looking at how a piece stands to saving, locking or amending it.

        Another bench on the same casebook waits as well.
        """
        with self.turn, alone(self.drafts, wait=True):
            yield

    def remembered(self, key: Hashable) -> Report | None:
        """Return a report that was formed a moment ago."""
        return self.reports.get(key)

    def remember(self, key: Hashable, report: Report) -> None:
        """Keep a report for the next page that asks for it, in place of the oldest one."""
        self.reports[key] = report
        while len(self.reports) > REMEMBERED:
            self.reports.popitem(last=False)

    def once(self, key: Hashable, form: Callable[[], Report]) -> Report:
        """Return the report that was formed a moment ago, or form it."""
        report = self.remembered(key)
        if report is None:
            report = form()
            self.remember(key, report)
        return report

    async def study(self, function: Callable[P, R], *args: P.args, **named: P.kwargs) -> R:
        """Do as `work` with what takes long, one at a time, so that a save never waits for it."""
        return await self._alone(partial(function, *args, **named), lambda: None)

    async def judge(
        self, function: Callable[Concatenate[Model, P], R], *args: P.args, **named: P.kwargs
    ) -> R:
        """Do as `study` with a function of the model, by the judge, who leaves off at once.

        Raises:
            Dropped: it was broken off.
        """
        if self.judging is None:
            return await self.study(partial(function, self.model, *args, **named))
        return await self._alone(
            partial(self.judging.ask, function, *args, **named), self.judging.drop
        )

    async def _alone(self, call: Callable[[], R], drop: Callable[[], None]) -> R:
        async with self.studies:
            found = asyncio.get_running_loop().run_in_executor(self.studying, call)
            try:
                return await asyncio.shield(found)
            except asyncio.CancelledError:
                while not found.done():
                    drop()  # again: a signal that comes before the work has begun is lost
                    await asyncio.wait({found}, timeout=LOOKS)
                found.exception()  # is nobody's
                raise

    async def work(self, function: Callable[P, R], *args: P.args, **named: P.kwargs) -> R:
        """Return what *function* returns, worked out beside the requests, a few at a time."""
        call = partial(function, *args, **named)
        return await asyncio.get_running_loop().run_in_executor(self.workers, call)

    async def save(self, function: Callable[P, R], *args: P.args, **named: P.kwargs) -> R:
        """Do as `work` with what waits for the disk, one after the other.

        Among the workers a second save would wait for the first, and keep an opinion waiting.
        """
        call = partial(function, *args, **named)
        return await asyncio.get_running_loop().run_in_executor(self.savers, call)

    def said(self, error: ClaywitError) -> str:
        """Return an error for a page, without the folders of this machine."""
        text = str(error)
        for path in (self.casebook, self.drafts):
            for folder in (path.absolute().parent, path.parent):
                if str(folder) not in (".", "/"):
                    text = text.replace(f"{folder}/", "").replace(f"{folder}\\", "")
        return text
