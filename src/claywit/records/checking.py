"""Is a casebook whole? Every entry and every object is looked at again."""

from typing import Literal

from claywit.errors import CasebookError
from claywit.model.values import Value
from claywit.records.archive import MAX_MANIFEST
from claywit.records.kept import Imported, Record, digests_in, links_in, read_canonical, read_record
from claywit.records.log import Entry, Head, against, walk
from claywit.records.store import Store


class Checked(Value):
    """What a check found; a whole casebook has no faults.

    outside: whether the log agrees with a head that was kept elsewhere.
    notes: what is odd and no fault, as a clock that went back.
    """

    format: Literal["claywit-casebook-check/1"] = "claywit-casebook-check/1"
    file: str
    entries: int
    objects: int
    head: str
    outside: Literal["agrees", "disagrees", "not checked"]
    faults: tuple[str, ...]
    notes: tuple[str, ...]

    def text(self) -> str:
        """Return the answer as lines for a terminal."""
        count = len(self.faults)
        whole = "whole" if not count else f"{count} fault{'s' if count > 1 else ''}"
        outside = {
            "agrees": "agrees with the head kept outside",
            "disagrees": "DISAGREES with the head kept outside",
            "not checked": "no head kept outside was given, so an end cut off would not show",
        }[self.outside]
        size = f"{self.entries} entries, {self.objects} objects"
        return "\n".join([*self.faults, *self.notes, f"{self.file}: {size}; {whole}; {outside}"])


def check(store: Store, outside: Head | None = None) -> Checked:
    """Return whether log and objects are whole, and agree with a head kept *outside*.

    Raises:
        CasebookError: the file cannot be read.
    """
    damage = tuple(f"the file is damaged: {line}" for line in store.damage())
    if damage:
        return Checked(
            file=str(store.path), entries=0, objects=0, head="", outside="not checked",
            faults=damage, notes=(),
        )  # fmt: skip
    with store.reading():
        rows = store.rows()
        chain = walk(rows)
        faults = [*chain.faults, *_columns(store, chain.entries)]
        told = against(rows, outside) if outside else None
        faults += [told] if told else []
        stored = set(store.digests())
        faults += [f"object {d[:12]}… was altered" for d in sorted(stored) if not _is_own(store, d)]
        found, used = _records(store, chain.entries, stored)
        faults += found
    stray = [
        f"object {d[:12]}… belongs to no entry; put in from outside?" for d in sorted(stored - used)
    ]
    return Checked(
        file=str(store.path),
        entries=len(rows),
        objects=len(stored),
        head=str(chain.head),
        outside="not checked" if outside is None else "disagrees" if told else "agrees",
        faults=tuple(faults + stray),
        notes=chain.notes,
    )


def _is_own(store: Store, digest: str) -> bool:
    try:
        store.get(digest)
    except CasebookError:
        return False
    return True


def _columns(store: Store, entries: tuple[Entry, ...]) -> list[str]:
    """Return where the column by which a case is found disagrees with the entry."""
    column = store.column_of_cases()
    return [
        f"entry {entry.sequence} is filed under another case than it names"
        for entry in entries
        if column.get(entry.sequence) != entry.case
    ]


def _records(
    store: Store, entries: tuple[Entry, ...], stored: set[str]
) -> tuple[list[str], set[str]]:
    """Return what is wrong with the records of *entries*, and the digests that they use."""
    faults: list[str] = []
    used: set[str] = set()
    earlier: set[str] = set()
    for entry in entries:
        used.add(entry.subject)
        try:
            record = read_record(store.get(entry.subject), entry.kind)
        except (CasebookError, ValueError):
            faults.append(
                f"the record of entry {entry.sequence} ({entry.kind}) is missing or altered"
            )
            earlier.add(entry.subject)
            continue
        parts, links, brought = _rests_on(store, record)
        used.update(parts)
        faults += [
            f"entry {entry.sequence}: object {digest[:12]}… is missing"
            for digest in parts
            if digest not in stored
        ]
        faults += [
            f"entry {entry.sequence} speaks of record {digest[:12]}…, which does not come before it"
            for digest in links
            if digest not in earlier
        ]
        earlier.update((entry.subject, *brought))
    return faults, used


def _rests_on(store: Store, record: Record) -> tuple[list[str], tuple[str, ...], list[str]]:
    """Return the objects of a record, the records it speaks of, and those that it brought."""
    parts = list(digests_in(record))
    if not isinstance(record, Imported):
        return parts, links_in(record), []
    try:
        manifest = read_canonical(store.get(record.manifest), MAX_MANIFEST)
        brought = [str(entry["subject"]) for entry in manifest["entries"]]
        return [*parts, *map(str, manifest["objects"])], (), brought
    except (CasebookError, ValueError, TypeError, KeyError):
        return parts, (), []
