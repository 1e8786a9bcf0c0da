"""The judge: a process that works out what takes long, so that no key waits for it.

Run as `python -m claywit.bench.judge`. What it is asked comes in on standard input, the model
first, and what it found goes out on standard output: both ends are our own. It gives way to all
other work, breaks off what nobody waits for any more, and ends with the bench.
"""

import os
import pickle
import signal
import subprocess
import sys
import threading
import traceback
from collections.abc import Callable, Mapping
from contextlib import suppress
from types import FrameType
from typing import Any, BinaryIO, Concatenate, ParamSpec, TypeVar, cast

from claywit.errors import ClaywitError
from claywit.model.schema import Model

P = ParamSpec("P")
R = TypeVar("R")
GIVES_WAY = 10  # to the bench, and to the browser
IS_POSIX = os.name == "posix"


class Dropped(Exception):  # noqa: N818 - it names the state of affairs
    """Nobody waits for the answer any more."""


class Judge:
    """The bench's end of the process; *ask* is called by one thread at a time."""

    def __init__(self, model: Model) -> None:
        """Know what all questions are about; the process is started by the first of them."""
        self._model = model
        self._process: subprocess.Popen[bytes] | None = None
        self._starting = threading.Lock()
        self._is_there = False  # a signal before that would end it
        self._is_over = False

    def begin(self) -> None:
        """Start the process, unless it is there.

        Raises:
            Dropped: the bench is closed.
        """
        with self._starting:
            if self._is_over:
                raise Dropped
            if self._process is not None and self._process.poll() is None:
                return
            apart: dict[str, Any] = {"process_group": 0} if IS_POSIX else {}  # from Ctrl-C
            self._process = subprocess.Popen(
                # -P: a file in the folder where the bench was started is never taken for a library.
                [sys.executable, "-P", "-m", "claywit.bench.judge"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                **apart,
            )
            self._is_there = False
            _send(self._process.stdin, self._model)

    def ask(
        self, function: Callable[Concatenate[Model, P], R], *args: P.args, **named: P.kwargs
    ) -> R:
        """Return what a function of the package returns of the model and what is given.

        Raises:
            Dropped: it was broken off.
            ClaywitError: as *function*.
        """
        try:
            kind, found = self._asked((function, args, named))
        except (OSError, EOFError):
            if self._is_over:
                raise Dropped from None
            # It was ended from outside, as where memory ran out: once more.
            kind, found = self._asked((function, args, named))
        if kind == "found":
            return cast("R", found)
        if kind == "dropped":
            raise Dropped
        raise ClaywitError(found) if kind == "refused" else RuntimeError(found)

    def _asked(self, question: object) -> tuple[str, Any]:
        self.begin()
        assert self._process is not None  # noqa: S101 - it has begun
        told = cast("BinaryIO", self._process.stdout)
        if not self._is_there:
            self._is_there = pickle.load(told)  # noqa: S301
        _send(self._process.stdin, question)
        answer: tuple[str, Any] = pickle.load(told)  # noqa: S301
        return answer

    def drop(self) -> None:
        """Break off what is being worked out, where the system lets us."""
        if self._process is not None and self._is_there and IS_POSIX:
            self._process.send_signal(signal.SIGUSR1)

    def close(self) -> None:
        """End the process; what it is asked is dropped."""
        with self._starting:
            self._is_over = True
            if self._process is not None:
                self._process.kill()
                self._process.wait()


def _send(stream: object, value: object) -> None:
    wire = cast("BinaryIO", stream)
    pickle.dump(value, wire, pickle.HIGHEST_PROTOCOL)
    wire.flush()


IMPORTING = "<frozen importlib._bootstrap>"  # the file of the frames that load a module


class _Work:
    """What the process is at; a signal breaks it off only while there is something.

    Nor while a module is loaded, since half a library stays behind and never loads again; who
    wants it broken off signals until it is.
    """

    def __init__(self) -> None:
        self.is_going_on = False

    def broken_off(self, _: int, frame: FrameType | None) -> None:
        within = frame
        while within is not None:
            if within.f_code.co_filename == IMPORTING:
                return
            within = within.f_back
        if self.is_going_on:
            self.is_going_on = False
            raise Dropped

    def done(self, model: Model, question: tuple[Any, Any, Any]) -> tuple[str, Any]:
        try:
            try:
                self.is_going_on = True
                return _answer(model, *question)
            finally:
                self.is_going_on = False
        except Dropped:  # also while a refusal was put into words
            return "dropped", None


def _answer(
    model: Model, function: Callable[..., Any], args: Any, named: Mapping[str, Any]
) -> tuple[str, Any]:
    try:
        return "found", function(model, *args, **named)
    except Dropped:
        raise
    except ClaywitError as wrong:
        return "refused", str(wrong)
    except Exception:  # noqa: BLE001 - our bug: the bench raises it
        return "failed", traceback.format_exc()


def main() -> None:
    """Answer one question after the other until the bench ends."""
    work = _Work()
    if IS_POSIX:
        signal.signal(signal.SIGUSR1, work.broken_off)
        os.nice(GIVES_WAY)
    asked, told = sys.stdin.buffer, sys.stdout.buffer
    sys.stdout = sys.stderr  # what is printed by mistake is no answer
    with suppress(EOFError, BrokenPipeError):
        model = pickle.load(asked)  # noqa: S301
        _send(told, True)
        import claywit.assessment  # noqa: F401 - or the first question would wait for it

        while True:
            _send(told, work.done(model, pickle.load(asked)))  # noqa: S301
    os._exit(0)  # what stands in a closed pipe is nobody's


if __name__ == "__main__":
    main()
