"""How a command ends that somebody or something stops."""

import errno
import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import typer
from typer.core import TyperGroup

from claywit.errors import ClaywitError

REFUSED = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO}
TERMINATED = 143  # 128 + SIGTERM, as shells count


class Commands(TyperGroup):
    """The commands; one whose reader has gone away is done, not wrong."""

    def invoke(self, ctx: Any) -> Any:
        """Run a command."""
        try:
            return super().invoke(ctx)
        except BrokenPipeError:
            nobody = os.open(os.devnull, os.O_WRONLY)
            for stream in (1, 2):  # what is still to be flushed goes nowhere
                os.dup2(nobody, stream)
            raise typer.Exit(0) from None
        except SystemExit as end:
            if isinstance(end.__context__, BrokenPipeError):  # rich has seen it first
                raise typer.Exit(0) from None
            raise


@contextmanager
def printed() -> Iterator[None]:
    """Turn a full disk under what is printed into an error; files of ours say so themselves.

    Raises:
        ClaywitError: as said.
    """
    try:
        yield
        sys.stdout.flush()
    except BrokenPipeError:
        raise
    except OSError as wrong:
        if wrong.errno not in REFUSED or wrong.filename is not None:
            raise
        nobody = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nobody, sys.stdout.fileno())
        raise ClaywitError(
            f"the answer could not be written out: {wrong.strerror}; make room, and ask again"
        ) from None


def end_on_termination() -> None:
    """Let a termination end the process as an exit does, so that drafts are cleared away."""
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(TERMINATED))
