"""A case as its log entries tell it: what is known of a piece, and when it came to be known."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

from claywit.errors import CasebookError
from claywit.records.archive import MAX_MANIFEST
from claywit.records.kept import (
    Certified,
    Examination,
    Imported,
    LoggedElsewhere,
    Opened,
    Opinion,
    Photograph,
    Record,
    Sealed,
    Unmasked,
    read_canonical,
    read_record,
)
from claywit.records.log import Entry, read_entry
from claywit.records.store import Store

R = TypeVar("R", bound=Record)


@dataclass(frozen=True)
class Step:
    """One step of a case: an entry with the record it adds; None for a record not handed over.

    digest: of the record. elsewhere: whether another casebook logged it, before an import.
    """

    sequence: int
    time: str
    kind: str
    digest: str
    record: Record | None
    elsewhere: bool = False


@dataclass(frozen=True)
class Case:
    """The steps of one case, in order."""

    id: str
    steps: tuple[Step, ...] = field(repr=False)

    def of(self, kind: type[R]) -> list[tuple[Step, R]]:
        """Return the records of one kind, each with its step, oldest first."""
        return [(step, step.record) for step in self.steps if isinstance(step.record, kind)]

    @property
    def opened(self) -> Opened:
        """Return the case as it came in, or as it was last revised."""
        return self.of(Opened)[-1][1]

    @property
    def is_sealed(self) -> bool:
        """Return whether story or price were sealed at intake."""
        return any(step.kind == "sealed" for step in self.steps)

    @property
    def unmasked_at(self) -> str | None:
        """Return when the seal was first broken in this casebook."""
        times = [step.time for step, _ in self.of(Unmasked) if not step.elsewhere]
        return times[0] if times else None

    @property
    def shown(self) -> frozenset[str]:
        """Return the digests of the sealed records that were shown in this casebook."""
        mine = [record for step, record in self.of(Unmasked) if not step.elsewhere]
        return frozenset(digest for record in mine for digest in record.sealed)

    def examination(self, examiner: str | None = None) -> tuple[Step, Examination] | None:
        """Return the readings that hold, of one *examiner* or the last that were added."""
        found = [
            (step, record)
            for step, record in self.of(Examination)
            if examiner in (None, record.examiner)
        ]
        return found[-1] if found else None

    @property
    def opinions(self) -> list[tuple[Step, Opinion]]:
        """Return the opinions that hold: those that no later one supersedes."""
        found = self.of(Opinion)
        superseded = {record.supersedes for _, record in found}
        return [(step, record) for step, record in found if step.digest not in superseded]

    def read_for(self, opinion: Opinion) -> tuple[Step, Examination]:
        """Return the readings that an opinion rests on.

        Raises:
            CasebookError: it names none, as a bundle of somebody's own making may.
        """
        for step, record in self.of(Examination):
            if step.digest == opinion.examination:
                return step, record
        raise CasebookError(f"{self.id}: an opinion on {opinion.model_name} rests on no readings")

    def examiner_of(self, opinion: Opinion) -> str:
        """Return whose readings an opinion rests on; raises as `read_for`."""
        return self.read_for(opinion)[1].examiner

    @property
    def certificates(self) -> list[tuple[Step, Certified]]:
        """Return the certificates, oldest first."""
        return self.of(Certified)

    @property
    def photographs(self) -> list[tuple[Step, Photograph]]:
        """Return the photographs, in the order in which they were added."""
        return self.of(Photograph)

    @property
    def seals(self) -> list[tuple[Step, Sealed]]:
        """Return what was sealed; do not show it while the case is masked."""
        return self.of(Sealed)


def read_case(store: Store, case: str) -> Case:
    """Return the case of that name.

    Raises:
        CasebookError: there is none, or something in it was altered.
    """
    steps = _steps(store, store.rows(case)) if case else []  # "": of the casebook itself
    if not steps:
        known = ", ".join(case_names(store)[-8:]) or "none yet"
        raise CasebookError(f"{store.path}: no case {ascii(case)[1:-1]}; known: {known}")
    return Case(case, tuple(steps))


def read_cases(store: Store) -> list[Case]:
    """Return all cases, in the order in which they were opened."""
    return [read_case(store, name) for name in case_names(store)]


def case_name(piece: str) -> str:
    """Return *piece*, which may name a case.

    Raises:
        CasebookError: it may not.
    """
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]{0,79}", piece, re.ASCII):
        raise CasebookError(
            f"piece id {piece[:80]!a}: as the name of a case it is letters, digits, point,"
            " dash and underscore, as weir-021"
        )
    return piece


def case_names(store: Store) -> list[str]:
    """Return the names of all cases, in the order in which they were opened."""
    names = (read_entry_of(store, *row).case for row in store.rows())
    return [name for name in dict.fromkeys(names) if name]


def read_entry_of(store: Store, sequence: int, written: bytes) -> Entry:
    """Return the entry that a row holds."""
    try:
        return read_entry(written)
    except ValueError as wrong:
        raise CasebookError(
            f"{store.path}: entry {sequence} {wrong}; `casebook check` lists all that is wrong"
        ) from None


def _steps(store: Store, rows: Sequence[tuple[int, bytes]]) -> list[Step]:
    steps: list[Step] = []
    for sequence, written in rows:
        entry = read_entry_of(store, sequence, written)
        record = _record(store, entry.subject, entry.kind)
        if isinstance(record, Imported):
            steps += _steps_elsewhere(store, record)
        steps.append(Step(sequence, entry.time, entry.kind, entry.subject, record))
    return steps


def _record(store: Store, digest: str, kind: str) -> Record:
    try:
        return read_record(store.get(digest), kind)
    except ValueError as wrong:
        raise CasebookError(f"{store.path}: record {digest[:12]}…: {wrong}") from None


def _steps_elsewhere(store: Store, imported: Imported) -> list[Step]:
    """Return the steps that a bundle brought; what it withheld has no record."""
    try:
        manifest = read_canonical(store.get(imported.manifest), MAX_MANIFEST)
        entries = [_entry_elsewhere(data) for data in manifest["entries"]]
        brought = frozenset(manifest["objects"])
    except (ValueError, TypeError, KeyError):
        raise CasebookError(
            f"{store.path}: manifest {imported.manifest[:12]}… is no table of contents of a bundle"
        ) from None
    steps = []
    for entry in entries:
        # What the bundle withheld stays so, even if another case of this casebook holds it.
        held = entry.subject in brought
        record = _record(store, entry.subject, entry.kind) if held else None
        steps.append(
            Step(entry.sequence, entry.time, entry.kind, entry.subject, record, elsewhere=True)
        )
    return steps


def _entry_elsewhere(data: Mapping[str, Any]) -> LoggedElsewhere:
    return LoggedElsewhere.model_validate(
        {key: data[key] for key in ("sequence", "time", "kind", "subject")}
    )
