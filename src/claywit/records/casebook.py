"""What is done in a casebook, one function for each step of a case.

Each step looks at the case and adds to the log within one transaction, so that two programs can
never both take a step that only one of them may take. Steps add; nothing is changed or removed.
"""

from dataclasses import dataclass
from datetime import datetime
from random import Random

from claywit.errors import CasebookError
from claywit.evidence.written import Evidence, read_evidence
from claywit.model.source import Document
from claywit.records.case import Case, case_name, read_case
from claywit.records.intake import Intake
from claywit.records.kept import (
    Certified,
    Examination,
    Opened,
    Photograph,
    Record,
    Sealed,
    Unmasked,
    canonical,
    read_canonical,
    refuse_unseen,
)
from claywit.records.log import Entry, Kind
from claywit.records.photographs import clean, look_at
from claywit.records.store import Store

MAX_CERTIFICATE = 16_000_000


def add(store: Store, now: datetime, kind: Kind, case: str, record: Record) -> Entry:
    """Add a record to the log; call it inside `writing`."""
    return store.append(now, kind, case=case, subject=store.put(canonical(record)))


def intake(store: Store, form: Intake, now: datetime, rng: Random) -> Entry:
    """Open a case for a piece, and seal its story and price.

    Raises:
        CasebookError: the piece's id cannot name a case, or a case has this name already.
    """
    case = case_name(form.piece.id)
    with store.writing():
        if store.rows(case):
            raise CasebookError(
                f"case {case} is there already; give the piece another id, or correct the case"
                " with --revise"
            )
        record = Opened(piece=form.piece, checklist=form.checklist)
        entry = add(store, now, "opened", case, record)
        return _seal(store, case, form, now, rng) or entry


def revise(store: Store, form: Intake, reason: str, now: datetime, rng: Random) -> Entry:
    """Record a case's intake anew, with the reason; what was recorded before stays.

    Raises:
        CasebookError: there is no such case, or no reason.
    """
    _refuse_empty(reason, "a reason")
    with store.writing():
        case = read_case(store, form.piece.id)
        before = case.of(Opened)[-1][0].digest
        record = Opened(piece=form.piece, checklist=form.checklist, revises=before, reason=reason)
        entry = add(store, now, "revised", case.id, record)
        return _seal(store, case.id, form, now, rng) or entry


def _seal(store: Store, case: str, form: Intake, now: datetime, rng: Random) -> Entry | None:
    if not (form.sealed.story.strip() or form.sealed.price.strip()):
        return None
    record = Sealed(story=form.sealed.story, price=form.sealed.price, salt=rng.randbytes(16).hex())
    return add(store, now, "sealed", case, record)


def seal(store: Store, case: str, story: str, now: datetime, rng: Random) -> Entry:
    """Add a story to what is kept from the examiner.

    Raises:
        CasebookError: there is no such case, or no story.
    """
    _refuse_empty(story, "a story to seal")
    with store.writing():
        read_case(store, case)
        return add(store, now, "sealed", case, Sealed(story=story, salt=rng.randbytes(16).hex()))


@dataclass(frozen=True)
class Shot:
    """What a photograph shows: its *view* (as front), and the *scale* in it, or none."""

    view: str
    scale: str


class AlreadyKept(CasebookError):  # noqa: N818 - it names the state of affairs
    """A photograph that is in the casebook as the same view with the same scale."""

    def __init__(self, text: str, record: Photograph) -> None:
        """Keep the record of it."""
        super().__init__(text)
        self.record = record


def photograph(
    store: Store, case: str, content: bytes, shot: Shot, now: datetime, *, name: str
) -> tuple[Entry, Photograph]:
    """Add a photograph; it is kept as it came, with a clean copy that may leave.

    Raises:
        AlreadyKept: with the record of the very same photograph.
        CasebookError: no such case, or no photograph that is kept.
    """
    _refuse_empty(shot.view, "a view, as front")
    _refuse_empty(shot.scale, "a scale, as `10 mm bar beside the piece`, or none")
    picture = look_at(content, name)
    without = clean(picture, name)
    look_at(without, name)
    with store.writing():
        found = read_case(store, case)
        record = Photograph(
            view=shot.view,
            scale=shot.scale,
            media=picture.media,
            width=picture.width,
            height=picture.height,
            original=store.put(content),
            clean=store.put(without),
        )
        if any(kept == record for _, kept in found.photographs):
            raise AlreadyKept(f"{name}: is kept already, as {shot.view}", record)
        return add(store, now, "photographed", case, record), record


def lock(store: Store, case: str, written: bytes, now: datetime, *, name: str) -> Entry:
    """Lock the first readings of a case; the evidence file is kept as it is.

    Raises:
        EvidenceError: it is no evidence file.
        CasebookError: no such case, another piece, or readings are locked already.
    """
    evidence, document = read_evidence(written, name)
    with store.writing():
        found = read_case(store, case)
        _refuse_other_piece(found, evidence, document)
        before = found.examination(evidence.examiner)
        if before:
            by = f" of {evidence.examiner}" if evidence.examiner else ""
            raise CasebookError(
                f"{case}: readings{by} are locked since {before[0].time}; what is seen now is"
                " added with `claywit casebook amend`, with the reason"
            )
        record = Examination(
            evidence=store.put(written),
            examiner=evidence.examiner,
            masked=_masked(found, evidence, document),
        )
        return add(store, now, "locked", case, record)


def amend(
    store: Store, case: str, written: bytes, reason: str, now: datetime, *, name: str
) -> Entry:
    """Add readings that stand in place of the locked ones, which stay, with the reason.

    Raises:
        EvidenceError: it is no evidence file.
        CasebookError: no such case, another piece, nothing locked yet, nothing new, no reason.
    """
    _refuse_empty(reason, "a reason")
    evidence, document = read_evidence(written, name)
    with store.writing():
        found = read_case(store, case)
        _refuse_other_piece(found, evidence, document)
        held = found.examination(evidence.examiner)
        if held is None:
            who = ascii(evidence.examiner)
            raise CasebookError(
                f"{case}: nothing of examiner {who} is locked; use `claywit casebook lock`"
            )
        step, before = held
        record = Examination(
            evidence=store.put(written),
            examiner=evidence.examiner,
            masked=_masked(found, evidence, document),
            amends=step.digest,
            reason=reason,
        )
        if record.evidence == before.evidence:
            raise CasebookError(f"{name}: is what was locked; nothing to amend")
        return add(store, now, "amended", case, record)


def unmask(store: Store, case: str, now: datetime) -> tuple[Case, Entry | None]:
    """Break the seal of a case whose readings are locked; return the case, and the entry if new.

    Raises:
        CasebookError: no such case, nothing sealed, or nothing locked yet.
    """
    with store.writing():
        found = read_case(store, case)
        if not found.is_sealed:
            raise CasebookError(f"{case}: nothing was sealed")
        if found.examination() is None:
            raise CasebookError(
                f"{case}: story and price are shown once readings are locked; use `claywit"
                " casebook lock` first"
            )
        digests = tuple(step.digest for step in found.steps if step.kind == "sealed")
        if set(digests) <= found.shown:
            return found, None
        entry = add(store, now, "unmasked", case, Unmasked(sealed=digests))
        return read_case(store, case), entry


def keep(store: Store, case: str, content: bytes, now: datetime, *, name: str) -> Entry:
    """Keep a certificate by its bytes, beside the opinion that holds.

    Raises:
        CasebookError: no such case, or it is no credential in JSON.
    """
    own = identity(content, name)
    with store.writing():
        found = read_case(store, case)
        record = Certified(
            id=own, certificate=store.put(content), opinion=_opinion_of(found, content)
        )
        if any(kept.certificate == record.certificate for _, kept in found.certificates):
            raise CasebookError(f"{name}: is kept already")
        return add(store, now, "certified", case, record)


def _opinion_of(case: Case, content: bytes) -> str | None:
    """Return the opinion that a certificate is kept beside: on the readings of its examiner."""
    data = read_canonical(content, MAX_CERTIFICATE)
    for step in ("credentialSubject", "trace", "examiner"):
        data = data.get(step) if isinstance(data, dict) else None
    own = {s.digest for s, r in case.of(Examination) if data in (None, r.examiner)}
    opinions = [step.digest for step, one in case.opinions if one.examination in own]
    return opinions[-1] if opinions else None


def identity(content: bytes, name: str) -> str:
    """Return what a certificate calls itself.

    Raises:
        CasebookError: it is no credential in JSON.
    """
    try:
        data = read_canonical(content, MAX_CERTIFICATE)
    except ValueError as wrong:
        raise CasebookError(f"{name}: no certificate: {wrong}") from None
    own = data.get("id") if isinstance(data, dict) else None
    if not isinstance(own, str) or not 0 < len(own) <= 400:
        raise CasebookError(f"{name}: no certificate: it has no id")
    return own


def _refuse_other_piece(case: Case, evidence: Evidence, document: Document) -> None:
    own = case.opened.piece.id
    if evidence.piece.id != own:
        raise CasebookError(
            f"{document.place(('piece', 'id'))}: is about {evidence.piece.id}, and case {case.id}"
            f" about {own}; mend the id, or name the other case"
        )


def _masked(case: Case, evidence: Evidence, document: Document) -> bool:
    """Return whether provenance was hidden: by the casebook, or as the examiner says."""
    said = evidence.readings.masked if evidence.readings else None
    if case.unmasked_at and said:
        raise CasebookError(
            f"{document.place(('readings', 'masked'))}: says that provenance was masked, and it"
            f" was unmasked {case.unmasked_at}; write masked: false"
        )
    hidden = case.is_sealed and not case.unmasked_at
    return bool(said) if said is not None else hidden


def _refuse_empty(text: str, what: str) -> None:
    try:
        refuse_unseen(text)
    except ValueError as wrong:
        raise CasebookError(f"{what}: {wrong}") from None
    if not text.strip():
        raise CasebookError(f"{what} is missing; write one")
