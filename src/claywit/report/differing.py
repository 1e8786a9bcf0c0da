"""How two models differ, and what that means: plain data and words."""

from collections.abc import Sequence
from math import inf
from typing import Literal

from claywit.learning.drift import Drift, Move
from claywit.model.difference import Change
from claywit.model.schema import Model
from claywit.model.values import Value
from claywit.reasoning.distance import Distance, TableMoved
from claywit.report.numbers import bans, factor, times
from claywit.report.report import ModelUsed
from claywit.report.used import model_used

SHOWN = 20  # pieces that are named


class Changed(Value):
    """One thing that changed, of a node or ("") of the model itself."""

    node: str
    text: str


class MovedTable(Value):
    """How far the table of a node moved; None where a zero came or went."""

    node: str
    bans: float | None
    row: str
    row_bans: float | None


class Apart(Value):
    """How far two models lie apart (Chan & Darwiche 2005), and what that bounds.

    bans: no odds differ by more; None where nothing bounds them, for the reason that
    *meaning* gives. factor: the same as a factor.
    """

    bans: float | None
    factor: float | None
    meaning: tuple[str, ...]
    tables: tuple[MovedTable, ...]
    measured: tuple[str, ...]
    matrices: tuple[str, ...]


class Moved(Value):
    """The leading state of a piece before and after, and the move of its odds; None: excluded."""

    piece: str
    before: str
    after: str
    bans: float | None


class TargetMoved(Value):
    """How the conclusions on one target drifted; *first* of those whose leading state changed."""

    target: str
    changed: int
    first: tuple[Moved, ...]
    largest: Moved | None
    median_bans: float | None


class Drifted(Value):
    """How conclusions drifted on a file of pieces; read = pieces + excluded + rejected.

    excluded: pieces whose findings one of the models says cannot stand together.
    left_out: by node, findings that only the old model can weigh.
    """

    file: str
    read: int
    pieces: int
    rejected: int
    excluded: int
    first_excluded: tuple[str, ...]
    left_out: dict[str, int]
    targets: tuple[TargetMoved, ...]


class Diff(Value):
    """What changed from one model to another, how far they lie apart, how conclusions drift."""

    format: Literal["claywit-diff/1"] = "claywit-diff/1"
    old: ModelUsed
    new: ModelUsed
    changes: tuple[Changed, ...]
    distance: Apart
    drift: Drifted | None = None


def diff(
    models: tuple[Model, Model], changes: Sequence[Change], apart: Distance, drift: Drifted | None
) -> Diff:
    """Return the whole answer as plain data."""
    old, new = models
    return Diff(
        old=model_used(old),
        new=model_used(new),
        changes=tuple(Changed(node=change.node, text=change.text) for change in changes),
        distance=_apart(apart),
        drift=drift,
    )


def _apart(apart: Distance) -> Apart:
    size = None if apart.bans is None else bans(apart.bans)
    return Apart(
        bans=size,
        factor=None if size is None else factor(size),
        meaning=tuple(_meaning(apart)),
        tables=tuple(_table(table) for table in apart.tables),
        measured=apart.measured,
        matrices=apart.matrices,
    )


def _table(table: TableMoved) -> MovedTable:
    row = ", ".join(f"{node}={state}" for node, state in table.row.items())
    return MovedTable(
        node=table.node, bans=bans(table.bans), row=row, row_bans=bans(table.row_bans)
    )


def _meaning(apart: Distance) -> list[str]:
    """Return what the distance says of any posterior, in sentences."""
    if apart.bans is None:
        return [f"The two cannot be compared as a whole: {apart.incomparable}."]
    said = []
    what = "whatever else is found" if apart.measured or apart.matrices else "whatever is found"
    if apart.bans == inf:
        zeros = ", ".join(table.node for table in apart.tables if table.bans == inf)
        said.append(
            f"A probability became 0 or was 0 in {zeros}: findings exist under which the answer"
            " is turned round, so nothing bounds the move."
        )
    elif apart.bans > 0:
        said.append(
            f"{what.capitalize()} and whatever is asked, no odds differ by more than"
            f" {apart.bans:.2f} bans, {_about(apart.bans)}."
        )
    else:
        said.append(f"The tables say the same: no odds differ, {what}.")
    if apart.measured:
        names = ", ".join(apart.measured)
        said.append(f"Measures of {names} are not covered: a measure far out can move odds more.")
    if apart.matrices:
        names = ", ".join(apart.matrices)
        said.append(f"Readings by {names} are not covered: what such a reading says has changed.")
    return said


def _about(size: float) -> str:
    ratio = factor(size)
    if ratio is None:
        return "a factor that no number here holds"
    if ratio < 9:
        ends = [100 * odds / (1 + odds) for odds in (1 / ratio, ratio)]
        return (
            f"a factor of {ratio:g}: what was 50% stays between {ends[0]:.0f}% and {ends[1]:.0f}%"
        )
    return f"odds of {times(ratio)}"


def drifted(file: str, found: Drift, read: int, rejected: int) -> Drifted:
    """Return the drift on the pieces of *file* as plain data."""
    return Drifted(
        file=file,
        read=read,
        pieces=found.pieces,
        rejected=rejected,
        excluded=len(found.excluded),
        first_excluded=found.excluded[:SHOWN],
        left_out=dict(found.left_out),
        targets=tuple(
            TargetMoved(
                target=one.target,
                changed=len(one.changed),
                first=tuple(_move(move) for move in one.changed[:SHOWN]),
                largest=_move(one.largest) if one.largest else None,
                median_bans=bans(one.median),
            )
            for one in found.targets
        ),
    )


def _move(move: Move) -> Moved:
    return Moved(piece=move.piece, before=move.before, after=move.after, bans=bans(move.bans))
