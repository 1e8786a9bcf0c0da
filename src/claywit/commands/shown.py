"""What a terminal is shown beside an answer: warnings, and nothing that would steer it."""

import unicodedata
import warnings
from collections.abc import Sequence
from typing import TextIO

import typer

from claywit.errors import ClaywitError, ClaywitWarning

# What turns the direction of the text after it: embeddings, overrides, isolates (UAX 9).
TURNS = ("LRE", "RLE", "LRO", "RLO", "LRI", "RLI", "FSI")
_show_warning = warnings.showwarning


def show_warnings() -> None:
    """Show each warning of claywit as one line on standard error."""
    warnings.showwarning = _warn
    warnings.simplefilter("always", ClaywitWarning)


def _warn(
    message: Warning | str,
    category: type[Warning],
    filename: str,
    lineno: int,
    file: TextIO | None = None,
    line: str | None = None,
) -> None:
    if issubclass(category, ClaywitWarning):
        typer.echo(f"warning: {message}", err=True)
    else:
        _show_warning(message, category, filename, lineno, file, line)


def refuse_steering(arguments: Sequence[str]) -> None:
    """Refuse arguments that would steer the terminal on which they are shown.

    The name of a file may be somebody else's, out of an archive, and given as `*.yaml`.

    Raises:
        ClaywitError: one of them would.
    """
    for argument in arguments:
        steers = [c for c in argument if unicodedata.category(c) == "Cc" and c not in "\n\t"]
        if steers or any(unicodedata.bidirectional(c) in TURNS for c in argument):
            raise ClaywitError(f"{argument}: holds a character that cannot be seen; rename it")
