"""How a command ends that somebody or something stops."""

import os
import signal
import sys
from typing import Any

import typer
from typer.core import TyperGroup

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


def end_on_termination() -> None:
    """Let a termination end the process as an exit does, so that drafts are cleared away."""
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(TERMINATED))
