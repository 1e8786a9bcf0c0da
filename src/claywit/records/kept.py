"""What a casebook keeps: one kind of record for each kind of log entry.

A record is stored in its RFC 8785 form under the SHA-256 of those bytes; larger things
(evidence, photographs, models, reports) are stored as they came, and a record holds their digests.
Nothing is ever changed: a later record revises, amends or supersedes an earlier one by digest.
"""

import json
import re
from collections.abc import Iterator
from typing import Annotated, Any, Literal

import rfc8785
from pydantic import Field, ValidationError

from claywit.evidence.written import ObjectId
from claywit.model.values import Name, StateName, Text, Value
from claywit.records.log import CaseId, Digest, Kind, Time

MAX_RECORD = 1_000_000
MAX_VALUES = 500_000  # counted by the commas, before each takes a hundred bytes
# Controls and marks that turn the direction of text round could make a terminal show what is
# not there; a record from another casebook is read by people too.
_UNSEEN = re.compile(
    "[\\x00-\\x08\\x0b-\\x1f\\x7f-\\x9f\\u202a-\\u202e\\u2066-\\u2069\\ufffe\\uffff]"
)

Said = Literal["yes", "no", "not_asked"]


class Answer(Value):
    """One answer of the checklist, with what was seen, where and when."""

    answer: Said = "not_asked"
    note: Text = ""


class Checklist(Value):
    """What was asked and seen at intake about ownership, import and export."""

    owner_declared: Answer = Answer()
    acquisition_told: Answer = Answer()
    export_papers_seen: Answer = Answer()
    import_papers_seen: Answer = Answer()
    database_checked: Answer = Answer()
    provenance_contested: Answer = Answer()


class Opened(Value):
    """A case as it came in, or as it was revised, with the fields of the Object ID standard."""

    kind: Literal["opened"] = "opened"
    piece: ObjectId
    checklist: Checklist = Checklist()
    revises: Digest | None = None
    reason: Text = ""


class Sealed(Value):
    """Story and price, kept from the examiner until the readings are locked.

    The *salt* keeps anybody from finding a price by trying all prices against the digest.
    """

    kind: Literal["sealed"] = "sealed"
    story: Text = ""
    price: Text = ""
    salt: Annotated[str, Field(pattern=r"^[0-9a-f]{32}$")]


class Photograph(Value):
    """A photograph; *clean* is the same picture without position and other remarks in it."""

    kind: Literal["photograph"] = "photograph"
    view: Annotated[str, Field(min_length=1, max_length=120)]
    scale: Annotated[str, Field(min_length=1, max_length=200)]
    media: Literal["image/jpeg", "image/png", "image/tiff"]
    width: Annotated[int, Field(ge=1)]
    height: Annotated[int, Field(ge=1)]
    original: Digest
    clean: Digest


class Examination(Value):
    """An evidence file, locked; *masked* says whether provenance was hidden until then."""

    kind: Literal["examination"] = "examination"
    evidence: Digest
    examiner: Text
    masked: bool
    amends: Digest | None = None
    reason: Text = ""


class Unmasked(Value):
    """The seal was broken: story and price were shown."""

    kind: Literal["unmasked"] = "unmasked"
    sealed: tuple[Digest, ...]


class Words(Value):
    """What an opinion says in words: the leading state, the attribution, the verbal term if any."""

    question: Name
    leading: StateName
    label: Text
    share: Annotated[str, Field(pattern=r"^[0-9.e+-]{1,30}$")]
    term: Text | None
    attribution: Text = ""


class Opinion(Value):
    """A report, and all that it takes to come to it again.

    asked, named: the question and the two propositions that were typed in place of what the
        evidence asks, if any were.
    """

    kind: Literal["opinion"] = "opinion"
    examination: Digest
    model: Digest
    model_name: Annotated[str, Field(max_length=80)]
    model_version: Annotated[str, Field(max_length=40)]
    scale: Digest
    policy: Digest
    report: Digest
    asked: Name | None = None
    named: tuple[Text, Text] | None = None
    claywit: Annotated[str, Field(max_length=40)]
    words: Words
    supersedes: Digest | None = None


class Certified(Value):
    """A certificate, kept by its bytes; *id* is what it calls itself."""

    kind: Literal["certificate"] = "certificate"
    id: Annotated[str, Field(max_length=400)]
    certificate: Digest
    opinion: Digest | None = None


class LoggedElsewhere(Value):
    """An entry of another casebook's log, as a bundle holds it."""

    sequence: Annotated[int, Field(ge=1, le=2**53, strict=True)]
    time: Time
    kind: Kind
    subject: Digest


class Imported(Value):
    """A case that came as a bundle; *manifest* is the digest of the bundle's table of contents."""

    kind: Literal["imported"] = "imported"
    manifest: Digest
    origin: Digest
    origin_case: CaseId


class Begun(Value):
    """The first record: which casebook this is."""

    kind: Literal["begun"] = "begun"
    id: Annotated[str, Field(pattern=r"^[0-9a-f]{32}$")]


Record = (
    Begun | Opened | Sealed | Photograph | Examination | Unmasked | Opinion | Certified | Imported
)
KINDS: dict[str, type[Record]] = {
    "begun": Begun,
    "opened": Opened,
    "revised": Opened,
    "sealed": Sealed,
    "photographed": Photograph,
    "locked": Examination,
    "amended": Examination,
    "unmasked": Unmasked,
    "opined": Opinion,
    "certified": Certified,
    "imported": Imported,
}


def canonical(record: Value) -> bytes:
    """Return *record* in canonical JSON (RFC 8785)."""
    return rfc8785.dumps(record.model_dump(mode="json"))


def read_record(written: bytes, kind: str) -> Record:
    """Return the record that an entry of this *kind* adds.

    Raises:
        ValueError: it is of another kind, not canonical, or holds characters that cannot be seen.
    """
    data = read_canonical(written)
    try:
        return KINDS[kind].model_validate(data)
    except ValidationError as wrong:
        first = wrong.errors()[0]
        where = ".".join(str(step) for step in first["loc"])[:80]
        raise ValueError(f"{where!a}: {first['msg']}") from None


def read_canonical(written: bytes, most: int = MAX_RECORD) -> Any:
    """Return the JSON data of *written*, which is in its canonical form and safe to show.

    Raises:
        ValueError: as said, or longer than *most* bytes.
    """
    if len(written) > most:
        raise ValueError(f"{len(written):,} bytes, at most {most:,} are read")
    if written.count(b",") > MAX_VALUES:
        raise ValueError(f"more than the {MAX_VALUES:,} values that are read")
    try:
        data = json.loads(written)
        same = rfc8785.dumps(data) == written
    except (ValueError, RecursionError, rfc8785.CanonicalizationError):
        raise ValueError("not readable as JSON") from None
    if not same:
        raise ValueError("not in its canonical bytes (RFC 8785)")
    for text in _texts(data):
        unseen = _UNSEEN.search(text)
        if unseen:
            raise ValueError(f"holds a character that cannot be seen (U+{ord(unseen[0]):04X})")
    return data


def refuse_unseen(text: str) -> str:
    """Return *text*, which a person typed and others will read.

    Raises:
        ValueError: it holds a character that cannot be seen.
    """
    unseen = _UNSEEN.search(text)
    if unseen:
        raise ValueError(f"a character that cannot be seen (U+{ord(unseen[0]):04X}); delete it")
    return text


def _texts(data: Any) -> Iterator[str]:
    waiting = [data]
    while waiting:
        value = waiting.pop()
        if isinstance(value, str):
            yield value
        elif isinstance(value, dict):
            waiting += [*value.keys(), *value.values()]
        elif isinstance(value, list):
            waiting += value


def digests_in(record: Record) -> tuple[Digest, ...]:
    """Return the digests of the objects (not records) that *record* rests on."""
    if isinstance(record, Photograph):
        return record.original, record.clean
    if isinstance(record, Examination):
        return (record.evidence,)
    if isinstance(record, Opinion):
        return record.model, record.scale, record.policy, record.report
    if isinstance(record, Certified):
        return (record.certificate,)
    return (record.manifest,) if isinstance(record, Imported) else ()


def links_in(record: Record) -> tuple[Digest, ...]:
    """Return the digests of the earlier records that *record* speaks of."""
    if isinstance(record, Opened):
        found: tuple[Digest | None, ...] = (record.revises,)
    elif isinstance(record, Examination):
        found = (record.amends,)
    elif isinstance(record, Opinion):
        found = (record.examination, record.supersedes)
    elif isinstance(record, Certified):
        found = (record.opinion,)
    else:
        found = record.sealed if isinstance(record, Unmasked) else ()
    return tuple(digest for digest in found if digest is not None)
