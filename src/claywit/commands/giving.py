"""How an answer is given: as JSON or for a person, with files of it beside."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import typer

if TYPE_CHECKING:
    from claywit.model.values import Value

T = TypeVar("T", bound="Value")


def give(
    answer: T,
    show: Callable[[T], None],
    *beside: tuple[Path | None, str, Callable[[T], str]],
    as_json: bool,
) -> None:
    """Print *answer* as JSON or as *show* does it, and write files of it.

    The files come first, so that no answer speaks of one that is not there; but the answer is
    shown even where they cannot be written, for it may have taken long.

    Args:
        answer: what a command found.
        show: prints it for a person.
        beside: for each file where it goes, if it is wanted, what it is, and what makes it.
        as_json: whether a program is to read what is printed.

    Raises:
        ClaywitError: a file cannot be written.
    """
    from claywit.records import files

    wanted = [(path, what, made) for path, what, made in beside if path]
    try:
        for path, _, made in wanted:
            files.write_text(path, made(answer))
    finally:
        if as_json:
            typer.echo(answer.model_dump_json(by_alias=True, indent=2))
        else:
            show(answer)
    for path, what, _ in wanted:
        typer.echo(f"{what} written to {path}", err=True)
