"""How a command ends that somebody or something stops."""

import os
import signal
import sys
from typing import Any, TextIO

import typer
from typer.core import TyperGroup

from claywit.errors import ClaywitError

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
        except OSError as wrong:
            if not _refused(sys.stdout):
                raise
            raise ClaywitError(f"the answer cannot be written out: {wrong.strerror}") from None


def _refused(stream: TextIO) -> bool:
    """Return whether what was printed cannot be written, as where a disk is full."""
    try:
        stream.flush()
    except OSError:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        return True
    return False


def end_on_termination() -> None:
    """Let a termination end the process as an exit does, so that drafts are cleared away."""
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(TERMINATED))
