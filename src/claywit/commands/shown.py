"""What a terminal is shown beside an answer: warnings, and nothing that would steer it."""

import warnings
from collections.abc import Sequence
from typing import Any
from unicodedata import bidirectional, category

import typer

from claywit.errors import ClaywitError, ClaywitWarning

# What turns the direction of the text after it: embeddings, overrides, isolates (UAX 9).
TURNS = ("LRE", "RLE", "LRO", "RLO", "LRI", "RLI", "FSI")
_show_warning = warnings.showwarning


def show_warnings() -> None:
    """Show each warning of claywit as one line on standard error."""
    warnings.showwarning = _warn
    warnings.simplefilter("always", ClaywitWarning)


def _warn(message: Warning | str, kind: type[Warning], *where: Any) -> None:
    if issubclass(kind, ClaywitWarning):
        typer.echo(f"warning: {message}", err=True)
    else:
        _show_warning(message, kind, *where)


def refuse_steering(arguments: Sequence[str]) -> None:
    """Refuse arguments that would steer the terminal on which they are shown.

    The name of a file may be somebody else's, out of an archive, and given as `*.yaml`.
    """
    for argument in arguments:
        steers = [c for c in argument if category(c) == "Cc" and c not in "\n\t"]
        if steers or any(bidirectional(c) in TURNS for c in argument):
            raise ClaywitError(f"{argument}: holds a character that cannot be seen; rename it")
