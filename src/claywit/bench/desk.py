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
from claywit.bench.turns import Turns
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


@dataclass(frozen=True)
class Desk:
    """All that the pages share.

    drafts: the folder of the readings that are not locked yet. now: the clock.
    page_key: what a page must show to change something; see `guard`. turn: see `changing`.
    opining: held by who looks whether an opinion is kept, and keeps one; no save waits for it.
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
    opining: threading.Lock = field(default_factory=threading.Lock)
    studies: Turns = field(default_factory=Turns)
    judgements: Turns = field(default_factory=Turns)
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
        """Do as `work` with what takes long and needs what lies on the desk, one at a time."""
        return await self.studies.take(partial(function, *args, **named))

    async def judge(
        self, function: Callable[Concatenate[Model, P], R], *args: P.args, **named: P.kwargs
    ) -> R:
        """Return what a function of the model returns, by the judge: for a page, the newest first.

        What is asked later, or beside a key, goes before it.

        Raises:
            Dropped: it was broken off.
        """
        return await self.judgements.take(self._asked(function, *args, **named), self._drop)

    async def judge_first(
        self, function: Callable[Concatenate[Model, P], R], *args: P.args, **named: P.kwargs
    ) -> R:
        """Do as `judge` for what stands beside a key: before all pages, broken off for none.

        Raises:
            Dropped: it was broken off.
        """
        call = self._asked(function, *args, **named)
        return await self.judgements.take(call, self._drop, is_first=True)

    def _asked(
        self, function: Callable[Concatenate[Model, P], R], *args: P.args, **named: P.kwargs
    ) -> Callable[[], R]:
        if self.judging is None:
            return partial(function, self.model, *args, **named)
        return partial(self.judging.ask, function, *args, **named)

    @property
    def _drop(self) -> Callable[[], None] | None:
        return self.judging.drop if self.judging else None

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
