"""A whole case as one file: its log entries, its records and what they rest on.

What was sealed stays behind unless it is asked for, and photographs leave as their clean copies.
The manifest lists the digest of each thing that is in the bundle and of each that was withheld.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from typing import Annotated, BinaryIO, Literal

from pydantic import Field, ValidationError

from claywit.errors import CasebookError
from claywit.model.formats import refuse_format
from claywit.model.values import Value
from claywit.records.archive import MAX_FILE, MAX_FILES, MAX_MANIFEST, MAX_TOTAL, Archive, pack
from claywit.records.case import Case, Step, case_name, read_case
from claywit.records.casebook import add, identity
from claywit.records.kept import (
    Certified,
    Examination,
    Imported,
    Opened,
    Opinion,
    Photograph,
    Record,
    Sealed,
    Unmasked,
    canonical,
    digests_in,
    links_in,
    read_canonical,
    read_record,
)
from claywit.records.log import BEFORE_ALL, CaseId, Digest, Entry, Kind, Time, read_entry, stamp
from claywit.records.photographs import look_at
from claywit.records.store import Store


class HeadSaid(Value):
    """The head of the log from which a bundle was taken."""

    length: Annotated[int, Field(ge=1, le=2**53, strict=True)]
    hash: Digest


class Manifest(Value):
    """The table of contents of a bundle."""

    format: Literal["claywit-bundle/1"] = "claywit-bundle/1"
    case: CaseId
    piece: Annotated[str, Field(max_length=120)]
    casebook: Digest  # of the record with which that casebook begins
    made: Time
    head: HeadSaid
    entries: Annotated[tuple[Entry, ...], Field(min_length=1, max_length=MAX_FILES)]
    objects: dict[Digest, Annotated[int, Field(ge=0, strict=True)]]  # digest: bytes
    withheld: tuple[Digest, ...]


def export(store: Store, case: str, now: datetime, *, sealed: bool = False) -> bytes:
    """Return a case as a bundle; *sealed* adds story and price.

    Raises:
        CasebookError: no such case, one that came as a bundle, or something was altered.
    """
    with store.reading():
        found = read_case(store, case)
        _refuse_imported(found)
        entries = [read_entry(written) for _, written in store.rows(case)]
        objects: dict[str, bytes] = {}
        withheld: list[str] = []
        for step in found.steps:
            parts, kept_back = _parts(store, step, sealed=sealed)
            objects |= parts
            withheld += kept_back
        head = store.head()
        begun = read_entry(store.rows("")[0][1]).subject
    total = sum(len(content) for content in objects.values())
    if total > MAX_TOTAL:
        raise CasebookError(f"{case}: {total:,} bytes, a bundle has at most {MAX_TOTAL:,}")
    manifest = Manifest(
        case=case,
        piece=found.opened.piece.id,
        casebook=begun,
        made=stamp(now),
        head=HeadSaid(length=head.length, hash=head.hash),
        entries=tuple(entries),
        objects={digest: len(content) for digest, content in sorted(objects.items())},
        withheld=tuple(sorted(set(withheld) - set(objects))),
    )
    return pack(canonical(manifest), objects)


def _refuse_imported(case: Case) -> None:
    # Entries of two logs in one manifest would say less than the bundle that came.
    if case.of(Imported):
        raise CasebookError(
            f"{case.id}: came as a bundle; hand on that bundle, and what was added here as its own"
        )


def _parts(store: Store, step: Step, *, sealed: bool) -> tuple[dict[str, bytes], list[str]]:
    """Return a step's record and what it rests on, and the digests of what is withheld."""
    record = step.record
    if record is None or (isinstance(record, Sealed) and not sealed):
        return {}, [step.digest]
    leaving = digests_in(record)
    if isinstance(record, Photograph):
        leaving = (record.clean,)
    withheld = [digest for digest in digests_in(record) if digest not in leaving]
    return {digest: store.get(digest) for digest in (step.digest, *leaving)}, withheld


@dataclass(frozen=True)
class Brought:
    """A bundle whose every part was found to be what its manifest says."""

    manifest: Manifest
    written: bytes
    archive: Archive


def unpack(stream: BinaryIO, name: str, *, most: int = MAX_FILE) -> Brought:
    """Return the bundle in *stream*, after a look at every part of it; nothing is written.

    No part may unpack to more than *most* bytes.

    Raises:
        CasebookError: it is no bundle, or a part is not what the manifest says.
    """
    archive = Archive(stream, name, most=most)
    written = archive.manifest()
    try:
        data = read_canonical(written, MAX_MANIFEST)
        refuse_format(data, Manifest)
        manifest = Manifest.model_validate(data)
        records = _check_parts(manifest, archive)
        _check_whole(manifest, records)
    except ValidationError as wrong:
        first = wrong.errors()[0]
        where = ascii(".".join(str(step) for step in first["loc"])[:80])
        raise CasebookError(f"{name}: manifest, {where}: {first['msg']}") from None
    except ValueError as wrong:
        raise CasebookError(f"{name}: {wrong}") from None
    return Brought(manifest, written, archive)


def _check_parts(manifest: Manifest, archive: Archive) -> list[Record]:
    """Return the records, each of its kind and with all that it rests on at hand or withheld."""
    if archive.objects() != sorted(manifest.objects):
        odd = min(set(archive.objects()) ^ set(manifest.objects))
        raise ValueError(f"object {odd[:12]}… is in the bundle or in its manifest, not in both")
    for digest, size in manifest.objects.items():
        if len(archive.get(digest)) != size:
            raise ValueError(f"object {digest[:12]}… is not as long as the manifest says")
    used: set[str] = set()
    records: list[Record] = []
    earlier: dict[str, str] = {}
    for entry in manifest.entries:
        used.add(entry.subject)
        if entry.subject in manifest.objects:
            record = read_record(archive.get(entry.subject), entry.kind)
            used.update(digests_in(record))
            _check_rests_on(record, manifest, earlier)
            if isinstance(record, Photograph):
                _check_photograph(record, archive)
            if isinstance(record, Certified):
                _check_certificate(record, archive)
            records.append(record)
        else:
            _check_withheld(entry, manifest)
        earlier[entry.subject] = entry.kind
    stray = {*manifest.objects, *manifest.withheld} - used
    if stray:
        raise ValueError(f"object {min(stray)[:12]}… belongs to no record")
    return records


def _check_rests_on(record: Record, manifest: Manifest, earlier: Mapping[str, str]) -> None:
    """Refuse a record whose objects are not there, or that speaks of a record that is not."""
    withheld = (
        {record.original} & set(manifest.withheld) if isinstance(record, Photograph) else set()
    )
    for digest in set(digests_in(record)) - withheld:
        if digest not in manifest.objects:
            raise ValueError(f"object {digest[:12]}… is missing")
    for digest in links_in(record):
        if digest not in earlier:
            raise ValueError(
                f"a record speaks of record {digest[:12]}…, which does not come before"
            )
    for digest, kinds in _links_by_kind(record):
        if earlier[digest] not in kinds:
            raise ValueError(
                f"a record speaks of record {digest[:12]}… as if it were {' or '.join(kinds)}, and"
                f" it is {earlier[digest]}"
            )


def _links_by_kind(record: Record) -> Iterator[tuple[str, tuple[Kind, ...]]]:
    """Yield the records that *record* speaks of, each with the kinds of entry it can be."""
    kinds: tuple[Kind, ...] = ("opened", "revised")
    if isinstance(record, Examination):
        kinds = ("locked", "amended")
    elif isinstance(record, Unmasked):
        kinds = ("sealed",)
    elif isinstance(record, Opinion | Certified):
        kinds = ("opined",)
    for digest in links_in(record):
        is_read = isinstance(record, Opinion) and digest == record.examination
        yield digest, ("locked", "amended") if is_read else kinds


def _check_withheld(entry: Entry, manifest: Manifest) -> None:
    if entry.kind != "sealed" or entry.subject not in manifest.withheld:
        raise ValueError(f"the record of entry {entry.sequence} ({entry.kind}) is missing")


def _check_photograph(record: Photograph, archive: Archive) -> None:
    picture = look_at(archive.get(record.clean), f"photograph {record.clean[:12]}")
    if (picture.width, picture.height) != (record.width, record.height):
        raise ValueError(f"photograph {record.clean[:12]}… is not of the size that is stated")


def _check_certificate(record: Certified, archive: Archive) -> None:
    name = f"certificate {record.certificate[:12]}…"
    if identity(archive.get(record.certificate), name) != record.id:
        raise ValueError(f"{name} calls itself otherwise than its record does")


def _check_whole(manifest: Manifest, records: list[Record]) -> None:
    sequences = [entry.sequence for entry in manifest.entries]
    if sequences != sorted(set(sequences)) or sequences[-1] > manifest.head.length:
        raise ValueError("its log entries are out of order")
    for before, after in pairwise(manifest.entries):
        if after.sequence == before.sequence + 1 and after.previous != before.hash:
            raise ValueError(f"entry {after.sequence} does not follow entry {before.sequence}")
    last = manifest.entries[-1]
    if last.sequence == manifest.head.length and last.hash != manifest.head.hash:
        raise ValueError("its last log entry is not the head that it states")
    if {entry.case for entry in manifest.entries} != {manifest.case}:
        raise ValueError("its log entries are of several cases")
    if any(entry.kind in ("begun", "imported") for entry in manifest.entries):
        raise ValueError("it holds log entries that no bundle holds")
    if manifest.entries[0].previous == BEFORE_ALL or not isinstance(records[0], Opened):
        raise ValueError("it does not begin with the intake of a case")


def bring_in(store: Store, brought: Brought, now: datetime, *, name: str | None = None) -> Entry:
    """Add a bundle's case under its own name or another, all of it or nothing.

    Raises:
        CasebookError: a case has that name, it may name none, or this bundle is here already.
    """
    manifest = brought.manifest
    case = case_name(name) if name else manifest.case
    with store.writing():
        if store.rows(case):
            raise CasebookError(f"case {case} is there already; give another name with --as")
        for digest in manifest.objects:
            store.put(brought.archive.get(digest))
        record = Imported(
            manifest=store.put(brought.written),
            origin=manifest.casebook,
            origin_case=manifest.case,
        )
        return add(store, now, "imported", case, record)
