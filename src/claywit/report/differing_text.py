"""How two models differ, on a terminal."""

from rich.console import Console, Group, RenderableType
from rich.text import Text

from claywit.report.differing import Apart, Diff, Drifted, Moved, TargetMoved
from claywit.report.numbers import signed_bans
from claywit.report.terminal import WIDEST, bullet, plain_console, table_of

TABLES = 10  # tables that are printed
PIECES = 5  # pieces that are printed of each target


def show_diff(answer: Diff, console: Console | None = None) -> None:
    """Print what changed, how far the models lie apart, and how conclusions drift."""
    out = console or plain_console()
    old, new = (f"{model.name} {model.version}" for model in (answer.old, answer.new))
    parts: list[RenderableType] = [Text(f"{old} -> {new}", style="bold")]
    if answer.changes:
        parts.append(Group(*(bullet(change.text) for change in answer.changes)))
    else:
        parts.append(Text("They say the same, word for word."))
    parts.append(Group(*_distance(answer.distance)))
    if answer.drift:
        parts.append(Group(*_drift(answer.drift)))
    for part in parts:
        out.print(part, width=min(out.width, WIDEST))
        out.print()


def _distance(apart: Apart) -> list[RenderableType]:
    said: list[RenderableType] = [Text("Distance", style="bold"), *map(Text, apart.meaning)]
    if apart.tables:
        table = table_of("", "bans", "most under", "bans of that row")
        for one in apart.tables[:TABLES]:
            table.add_row(one.node, _size(one.bans), one.row or "-", _size(one.row_bans))
        said.append(table)
        if len(apart.tables) > TABLES:
            said.append(Text(f"and {len(apart.tables) - TABLES} tables more"))
    return said


def _size(value: float | None) -> str:
    return "no bound" if value is None else f"{value:.2f}"


def _drift(drift: Drifted) -> list[RenderableType]:
    said: list[RenderableType] = [
        Text("Drift", style="bold"),
        Text(f"{drift.file}: {drift.pieces:,} of {drift.read:,} pieces weighed by both models."),
    ]
    if drift.rejected:
        said.append(Text(f"{drift.rejected:,} could not be read and were rejected."))
    if drift.excluded:
        names = ", ".join(drift.first_excluded[:PIECES])
        more = ", …" if drift.excluded > PIECES else ""
        text = f"{drift.excluded:,} have findings that one of the models excludes together: {names}"
        said.append(Text(f"{text}{more}."))
    for node, count in drift.left_out.items():
        said.append(Text(f"{node}: {count:,} findings that only the old model can weigh."))
    return [*said, *(bullet(_target(one, drift.pieces)) for one in drift.targets)]


def _target(one: TargetMoved, pieces: int) -> str:
    if one.largest is None:
        return f"{one.target}: no piece to compare."
    text = f"{one.target}: {one.changed:,} of {pieces:,} lead elsewhere"
    if one.first:
        more = ", …" if one.changed > PIECES else ""
        text += f" ({'; '.join(_led(move) for move in one.first[:PIECES])}{more})"
    largest = one.largest
    return (
        f"{text}; the odds of the state that led move by {_size(one.median_bans)} bans in the"
        f" median, {_bans(largest)} at most ({largest.piece}, {largest.before})."
    )


def _led(move: Moved) -> str:
    return f"{move.piece}: {move.before} -> {move.after}"


def _bans(move: Moved) -> str:
    return "without bound" if move.bans is None else signed_bans(move.bans)
