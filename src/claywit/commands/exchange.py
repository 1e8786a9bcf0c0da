"""The command that carries a model from one format to another."""

from pathlib import Path
from typing import Annotated

import typer

from claywit.errors import ModelError


def convert(
    model: Annotated[
        Path, typer.Argument(metavar="IN", help="A model: .yaml, .json, .bif, .xmlbif or .uai.")
    ],
    output: Annotated[
        Path, typer.Option("--output", "-o", metavar="OUT", help="The file to write; as IN.")
    ],
    target: Annotated[
        list[str] | None,
        typer.Option("--target", metavar="NODE", help="A question, where IN states none."),
    ] = None,
    answers_may_change: Annotated[
        bool,
        typer.Option("--answers-may-change", help="Leave out what OUT cannot hold all the same."),
    ] = False,
) -> None:
    """Carry a model from one format to another, to the last bit.

    What OUT cannot hold is said; where an answer would change without it, nothing is written.
    """
    from claywit.inference.flattened import flatten
    from claywit.model import exchange
    from claywit.model.source import MAX_BYTES
    from claywit.records import disk

    disk.refuse_over(output, model)
    kind, read_as = exchange.format_of(str(output)), exchange.format_of(str(model))
    content = disk.read_bytes(model, MAX_BYTES, ModelError)
    read = exchange.read_exchanged(content, str(model), target or ())
    if kind in exchange.WHOLE and read_as not in exchange.WHOLE and not target:
        known = ", ".join(node.name for node in read.nodes[:8])
        raise ModelError(f"{model}: states no question; name one with --target (nodes: {known})")
    lost = exchange.lost(read, kind, read_as)
    _ask_before_change(
        f"{model}: {kind}", [one.what for one in lost if one.changes_answers], answers_may_change
    )
    if kind in exchange.WHOLE:
        text = exchange.write_whole(read, kind)
    else:
        text = exchange.WRITERS[kind](flatten(read))
    written = text.encode()
    if len(written) > MAX_BYTES:
        raise ModelError(f"{output}: would have {len(written):,} bytes, {MAX_BYTES:,} are read")
    disk.write_bytes(output, written)
    for entry in lost:
        typer.echo(f"left out: {entry.what}", err=True)
    typer.echo(f"written  {output}")


def _ask_before_change(what: str, changing: list[str], allowed: bool) -> None:  # noqa: FBT001 - the flag itself
    if changing and not allowed:
        raise ModelError(
            f"{what} cannot hold {'; '.join(changing)}. Answers would change without;"
            " leave it out with --answers-may-change, or write .json"
        )
