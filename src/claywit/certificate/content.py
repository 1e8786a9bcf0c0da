"""Whether the parts of one certificate belong together, as far as can be seen without inference."""

from collections.abc import Iterator, Mapping
from typing import Any

from claywit.certificate.canonical import digest_of
from claywit.certificate.letters import resembles, strange_letters, strange_names
from claywit.certificate.outcome import Wrong
from claywit.certificate.schema import Certificate, Trace
from claywit.certificate.shipped import SHIPPED

Apart = tuple[str, Wrong, str]  # the name of the check, the code and the sentence
NAMED = ("name", "version", "status")  # what is said of a model beside the model itself


def apart_in(value: Certificate) -> Iterator[Apart]:
    """Yield each part that is not the one whose name or digest it, or the report, says it has."""
    yield from _model(value.trace)
    yield from _evidence(value.trace)
    yield from _data(value.trace)
    yield from _names(value.trace)


def _model(trace: Trace) -> Iterator[Apart]:
    model = trace.model
    if model.source is not None and digest_of(model.source) != model.digest:
        yield "model", "model_differs", "the model in it is not the one whose digest it names"
    if _said(trace.report, "model", "digest") != model.digest:
        yield "model", "model_differs", "its report is about another model"
    told = [_said(trace.report, "model"), *([model.source] if model.source is not None else [])]
    for source in told:
        wrong = [key for key in NAMED if _said(source, key) != getattr(model, key)]
        if wrong:
            yield "model", "model_differs", f"{', '.join(wrong)}: it says two things of its model"


def _evidence(trace: Trace) -> Iterator[Apart]:
    evidence = trace.evidence
    if digest_of(evidence.source) != evidence.digest:
        yield "evidence", "findings_differ", "the evidence in it has another digest than it names"
    if _said(trace.report, "evidence", "digest") != evidence.digest:
        yield "evidence", "findings_differ", "its report is about other evidence"


def _data(trace: Trace) -> Iterator[Apart]:
    for part, key in ((trace.scale, "id"), (trace.policy, "id"), (trace.evaluation, "format")):
        if part is None:
            continue
        name = part.id[:80]
        if digest_of(part.source) != part.digest:
            yield name, "data_differ", f"{name} has another digest than it names"
        if part.source.get(key, "") != part.id:
            yield name, "data_differ", f"'{name}' is not what the data in it is called"
        if SHIPPED.get(part.id, part.digest) != part.digest:
            yield name, "not_as_shipped", f"{name} has another content here than in claywit"
        for shipped in SHIPPED:
            if resembles(part.id, shipped):
                yield name, "look_alike", f"{name!a} is not {shipped}, but looks like it"
        if strange := strange_letters(part.id):
            yield name, "look_alike", f"{name!a} looks like another name: {strange}"


def _names(trace: Trace) -> Iterator[Apart]:
    engagement = _said(trace.evidence.source, "engagement")
    for what, strange in strange_names(trace.piece, trace.examiner, engagement):
        yield what, "look_alike", f"the {what} has a name that looks like another: {strange}"


def _said(data: Any, *path: str) -> Any:
    for step in path:
        data = data.get(step) if isinstance(data, Mapping) else None
    return data
