"""Opinions of a casebook: formed on locked readings, and kept with all it takes to replay them."""

import json
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256

import rfc8785
from pydantic import ValidationError

from claywit import __version__, assessment
from claywit.errors import CasebookError
from claywit.evidence.binding import Examined, bind
from claywit.evidence.written import Readings, read_evidence
from claywit.model.propositions import Proposition
from claywit.model.schema import Model
from claywit.model.soundness import problems, read_data
from claywit.reasoning.policy import Policy
from claywit.records.amendments import amendments
from claywit.records.case import Case, Step, read_case
from claywit.records.casebook import add
from claywit.records.kept import Examination, Opinion, Words, canonical
from claywit.records.log import Entry
from claywit.records.store import Store
from claywit.report.digest import plain
from claywit.report.report import Report
from claywit.report.scale import Scale
from claywit.report.standards import Standards


@dataclass(frozen=True)
class Asked:
    """What an opinion is asked beyond what the evidence asks."""

    question: str | None = None
    for_: str | None = None
    against: str | None = None
    examiner: str | None = None


@dataclass(frozen=True)
class Posed:
    """What an opinion is asked of: an examiner's readings of a case, in the words of a model."""

    step: Step
    examiner: str
    examined: Examined
    named: tuple[Proposition, Proposition] | None


@dataclass(frozen=True)
class Formed:
    """An opinion that is not kept yet: its record, and the objects that the record rests on."""

    report: Report
    record: Opinion
    objects: tuple[bytes, ...]


def opine(
    store: Store,
    case: str,
    model: Model,
    standards: Standards,
    now: datetime,
    *,
    asked: Asked | None = None,
) -> tuple[Report, Entry]:
    """Form an opinion on the readings that hold, and keep it with all it takes to replay it.

    Raises:
        CasebookError: no such case, nothing locked yet, or provenance is contested.
        ClaywitError: as `assessment.assess`.
    """
    with store.writing():
        formed = form(store, read_case(store, case), model, standards, asked or Asked())
        return formed.report, save(store, case, formed, now)


def save(store: Store, case: str, formed: Formed, now: datetime) -> Entry:
    """Keep an opinion; call it inside `writing`."""
    for content in formed.objects:
        store.put(content)
    return add(store, now, "opined", case, formed.record)


def form(store: Store, case: Case, model: Model, standards: Standards, asked: Asked) -> Formed:
    """Return the opinion of *model* on the readings that hold.

    Raises:
        ClaywitError: as `opine`.
    """
    posed = pose(store, case, model, asked)
    report = assessment.assess(model, posed.examined, standards, named=posed.named)
    return formed(case, posed, report, (model, standards, asked))


def pose(store: Store, case: Case, model: Model, asked: Asked) -> Posed:
    """Return what is asked of *model*, of the readings that hold.

    Raises:
        ClaywitError: as `opine`.
    """
    step, examination = _locked(case, asked)
    examined = readings(store, case, step, model)
    examined, named = assessment.ask(model, examined, asked.question, asked.for_, asked.against)
    return Posed(step, examination.examiner, examined, named)


def formed(case: Case, posed: Posed, report: Report, by: tuple[Model, Standards, Asked]) -> Formed:
    """Return the opinion that *report* is of what was posed, to be kept."""
    model, standards, asked = by
    own = {s.digest for s, r in case.of(Examination) if r.examiner == posed.examiner}
    mine = [s for s, o in case.opinions if o.examination in own]
    objects = (
        rfc8785.dumps(plain(model)),
        canonical(standards.scale),
        rfc8785.dumps(plain(standards.policy)),
        report_bytes(report),
    )
    of_model, of_scale, of_policy, of_report = (sha256(content).hexdigest() for content in objects)
    record = Opinion(
        examination=posed.step.digest,
        model=of_model,
        model_name=model.name,
        model_version=model.version,
        scale=of_scale,
        policy=of_policy,
        report=of_report,
        asked=asked.question,
        named=(report.explanation.for_, report.explanation.against) if posed.named else None,
        claywit=__version__,
        words=words(report),
        supersedes=mine[-1].digest if mine else None,
    )
    return Formed(report, record, objects)


def _locked(case: Case, asked: Asked) -> tuple[Step, Examination]:
    """Return the readings that an opinion rests on, where one may be given."""
    if case.opened.checklist.provenance_contested.answer == "yes":
        raise CasebookError(
            f"{case.id}: provenance is contested, so no opinion is given; once that is settled,"
            " record it with `claywit casebook intake --revise`"
        )
    held = case.examination(asked.examiner)
    if held is None:
        who = f" of examiner {asked.examiner!a}" if asked.examiner else ""
        raise CasebookError(f"{case.id}: nothing{who} is locked; use `claywit casebook lock`")
    return held


def asked_by(case: Case, opinion: Opinion) -> Asked:
    """Return what an opinion was asked, to ask it of another model."""
    for_, against = opinion.named or (None, None)
    return Asked(opinion.asked, for_, against, case.examiner_of(opinion))


def again(store: Store, case: Case, opinion: Opinion) -> bytes:
    """Return the report that comes of what was kept with an opinion, in its canonical bytes.

    Raises:
        ClaywitError: something that was kept cannot be read, or does not fit.
    """
    name = f"{case.id}: opinion on {opinion.model_name}"
    model = _kept_model(store.get(opinion.model), name)
    try:
        standards = Standards(
            Scale.model_validate_json(store.get(opinion.scale)),
            Policy.model_validate_json(store.get(opinion.policy)),
        )
    except (ValidationError, RecursionError):
        what = "the scale or the policy that was kept"
        raise CasebookError(f"{name}: {what} is not readable") from None
    step, _ = case.read_for(opinion)
    asked = asked_by(case, opinion)
    examined = readings(store, case, step, model)
    examined, named = assessment.ask(model, examined, asked.question, asked.for_, asked.against)
    return report_bytes(assessment.assess(model, examined, standards, named=named))


def _kept_model(written: bytes, name: str) -> Model:
    """Return a model that a casebook kept, sound or not at all."""
    try:
        model = read_data(json.loads(written), name)
        fault = next(problems(model), None)
    except (ValueError, RecursionError):
        raise CasebookError(f"{name}: the model that was kept is not readable") from None
    if fault:
        raise CasebookError(f"{name}: the model that was kept is not sound: {fault.text}")
    return model


def readings(store: Store, case: Case, step: Step, model: Model) -> Examined:
    """Return what an examination says in the words of *model*, with when it was locked."""
    examination = step.record
    if not isinstance(examination, Examination):
        raise CasebookError(f"{case.id}: record {step.digest[:12]}… holds no readings")
    name = f"{case.id} {examination.evidence[:12]}"
    evidence, document = read_evidence(store.get(examination.evidence), name)
    # The log knows when readings were locked and amended, and whether provenance was hidden.
    held = Readings(
        locked_at=step.time,
        masked=examination.masked,
        amendments=amendments(store, case, step),
    )
    return bind(evidence.model_copy(update={"readings": held}), model, document.place)


def report_bytes(report: Report) -> bytes:
    """Return a report in canonical JSON (RFC 8785)."""
    return rfc8785.dumps(report.model_dump(mode="json", by_alias=True))


def words(report: Report) -> Words:
    """Return what a report says in words: its leading state, and its verbal term."""
    node = report.nodes[report.question]
    return Words(
        question=report.question,
        leading=report.leading,
        label=node.states[report.leading].label,
        share=report.posterior[report.question][report.leading],
        term=report.explanation.verbal.term,
        attribution=report.attribution.words if report.attribution else "",
    )
