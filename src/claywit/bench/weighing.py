"""A draft weighed: its finished answers as evidence, what is wrong with the others, the answer."""

from dataclasses import dataclass
from typing import Any

import yaml
from pydantic import ValidationError

from claywit.bench.draft import Draft, Reading, finding
from claywit.bench.labels import state_title
from claywit.errors import EvidenceError
from claywit.evidence.binding import Examined, bind
from claywit.evidence.findings import Finding
from claywit.evidence.meaning import meaning
from claywit.evidence.written import Evidence, Written, read_evidence
from claywit.model.schema import Model
from claywit.model.source import Path

NO_REASON = "no reason given"
TERMS_TITLE = "Question and terms"
TERMS = "terms"  # where what is wrong beside the answers is told
_AT = "\N{SYMBOL FOR RECORD SEPARATOR}"  # between a trait's name and what is wrong with it


@dataclass(frozen=True)
class Weighable:
    """What can be weighed of a draft, and by trait what is wrong with the rest.

    What is wrong with the terms stands under `TERMS`; that part of them is then left out.
    """

    examined: Examined
    problems: dict[str, str]


def weighable(draft: Draft, model: Model) -> Weighable:
    """Return what *draft* says in the words of *model*, as far as it is finished and fits."""
    problems: dict[str, str] = {}
    kept = dict(draft.readings)
    for name, reading in draft.readings.items():
        wrong = _wrong(name, reading, model)
        if wrong:
            problems[name] = wrong
            del kept[name]
    while True:
        evidence = _evidence(draft, kept)
        try:
            return Weighable(bind(evidence, model, _place), problems)
        except EvidenceError as wrong:
            name, found, text = str(wrong).partition(_AT)
            said = text.removeprefix(": ")
            if found and name in kept:
                problems[name] = said
                del kept[name]
            elif found and name in _LEFT_OUT and getattr(draft, name) != _LEFT_OUT[name]:
                problems.setdefault(TERMS, said)
                draft = draft.model_copy(update={name: _LEFT_OUT[name]})
            else:
                raise EvidenceError(str(wrong).replace(_AT, "")) from None


def implied(found: Weighable, model: Model) -> dict[str, str]:
    """Return what the order of events says of traits that were not answered, in words."""
    return {
        finding.node: _implied(finding, model)
        for finding in found.examined.findings
        if finding.implied_by
    }


def _implied(finding: Finding, model: Model) -> str:
    node = model.node(finding.node)
    weighed = finding.likelihood or {}
    states = [finding.state] if finding.state else [s for s, p in weighed.items() if p]
    said = " or ".join(state_title(node, state) for state in states)
    before, after = (event.replace("_", " ") for event in finding.implied_by or ("", ""))
    return f"{said}: {before} lies under {after}, in the order of events"


def _place(path: Path) -> str:
    """Return the trait that a path of the evidence is about, so that it can be told."""
    is_trait = len(path) > 1 and path[0] in ("findings", "not_examined")
    return f"{path[1 if is_trait else 0]}{_AT}"


_LEFT_OUT: dict[str, Any] = {"question": None, "propositions": None, "priors": {}, "sequence": ()}


def _wrong(name: str, reading: Reading, model: Model) -> str:
    """Return why one answer cannot be weighed, or nothing."""
    node = model.by_name.get(name)
    if node is None or not node.is_trait:
        return "the model has no such trait"
    if not reading.is_finished:
        return _unfinished(reading)
    if reading.way == "unexamined":
        return ""
    try:
        meaning(node, Written.model_validate(finding(reading)), model)
    except ValidationError as wrong:
        first = wrong.errors()[0]
        at = f"{first['loc'][-1]}: " if first["loc"] else ""
        return at + str(first["msg"]).removeprefix("Value error, ")
    except ValueError as wrong:
        return str(wrong)
    return ""


def _unfinished(reading: Reading) -> str:
    if not reading.way:
        return "not finished: noted, but how was it seen?"
    if reading.way == "measured":
        return "not finished: a value is missing"
    if reading.way == "likelihood":
        return "not finished: how probable would this be under each state?"
    if not reading.state:
        return "not finished: which state was seen?"
    return "not finished: how sure are you?"


def _evidence(draft: Draft, readings: dict[str, Reading]) -> Evidence:
    return Evidence.model_validate(_plain(draft, readings))


def _plain(draft: Draft, readings: dict[str, Reading]) -> dict[str, Any]:
    """Return the evidence file that *readings* make, as data in the order of a file."""
    photographs = [f"SHA-256 {d}" for r in readings.values() for d in r.photographs]
    piece = draft.piece.model_dump(exclude_defaults=True)
    if photographs:
        piece["photographs"] = [*piece.get("photographs", ()), *dict.fromkeys(photographs)]
    data: dict[str, Any] = {"format": "claywit-evidence/1", "piece": piece}
    if draft.examiner:
        data["examiner"] = draft.examiner
    if draft.question:
        data["question"] = draft.question
    data["findings"] = {n: finding(r) for n, r in readings.items() if r.way != "unexamined"}
    data["not_examined"] = {
        n: r.why.strip() or NO_REASON for n, r in readings.items() if r.way == "unexamined"
    }
    for part in ("propositions", "engagement"):
        said = getattr(draft, part)
        if said is not None:
            data[part] = said.model_dump(by_alias=True, mode="json", exclude_defaults=True)
    if draft.priors:
        data["priors"] = draft.priors
    if draft.sequence:
        data["sequence"] = [list(events) for events in draft.sequence]
    if draft.notes.strip():
        data["notes"] = draft.notes
    return data


def in_words_of(held: bytes, written: bytes, model: Model) -> bytes:
    """Return the evidence file *written*, each finding as *held* words it where both mean the same.

    Else readings that another program locked would all seem to have changed, by their wording.
    """
    one, old = read_evidence(held, "what is held")
    other, new = read_evidence(written, "what is written")
    kept = {
        name: old.data["findings"][name]
        for name, finding in one.findings.items()
        if name in other.findings
        and _means(name, finding, model) == _means(name, other.findings[name], model)
    }
    findings = {name: kept.get(name, said) for name, said in new.data.get("findings", {}).items()}
    return _as_yaml({**new.data, "findings": findings})


def _means(name: str, finding: Written, model: Model) -> Finding:
    return meaning(model.node(name), finding, model)


def _as_yaml(data: dict[str, Any]) -> bytes:
    return yaml.safe_dump(data, allow_unicode=True, sort_keys=False, width=100).encode()


def evidence_file(draft: Draft, model: Model) -> bytes:
    """Return the evidence file of a draft all of whose answers can be weighed.

    Raises:
        EvidenceError: an answer cannot, or there is none.
    """
    found = weighable(draft, model)
    if found.problems:
        name, wrong = next(iter(found.problems.items()))
        label = model.by_name[name].title if name in model.by_name else TERMS_TITLE
        more = f" (and {len(found.problems) - 1} more)" if len(found.problems) > 1 else ""
        raise EvidenceError(f"{label}: {wrong}{more}")
    if not draft.readings:
        raise EvidenceError("nothing is answered yet")
    data = _plain(draft, dict(draft.readings))
    return _as_yaml(data)
