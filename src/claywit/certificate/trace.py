"""The reasoning trace: everything that an opinion rests on, gathered from where it was made."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from claywit import __version__
from claywit.assessment import SEED, assess
from claywit.certificate.canonical import digest_of
from claywit.certificate.schema import (
    FORMAT,
    Data,
    Earlier,
    Log,
    Method,
    Reliability,
    Trace,
    UsedEvidence,
    UsedModel,
)
from claywit.certificate.words import DEFINITIONS, INFERENCE, LIMITS, NOTICES
from claywit.evidence.binding import Examined
from claywit.evidence.findings import Finding
from claywit.inference.likelihood import uncertainty
from claywit.model.schema import Model, Node
from claywit.report.digest import digest, plain
from claywit.report.reading import form
from claywit.report.report import Report
from claywit.report.standards import Standards


@dataclass(frozen=True)
class Terms:
    """What is said of a certificate beside the opinion itself.

    embed: carry the model whole, not by its digest alone.
    evaluation: figures of a test on known pieces, for a measured model.
    """

    embed: bool = True
    valid_until: str | None = None
    evaluation: Mapping[str, Any] | None = None
    supersedes: Earlier | None = None
    log: Log | None = None


def trace(
    model: Model, examined: Examined, standards: Standards, report: Report, terms: Terms
) -> Trace:
    """Return the whole trace of *report*, which is the opinion of *model* on *examined*."""
    evidence = examined.evidence
    return Trace(
        format=FORMAT,
        notices=(NOTICES[model.status],),
        piece=evidence.piece.id,
        examiner=evidence.examiner,
        model=UsedModel(
            name=model.name,
            version=model.version,
            status=model.status,
            digest=digest(model),
            source=plain(model) if terms.embed else None,
        ),
        evidence=UsedEvidence(digest=digest(evidence), source=plain(evidence)),
        report=as_json(report),
        reliability={f.node: reliability(model.node(f.node), f) for f in examined.findings},
        not_recorded=not_recorded(model, examined),
        scale=data(standards.scale.id, plain(standards.scale)),
        policy=data(standards.policy.id, plain(standards.policy)),
        evaluation=_evaluation(terms.evaluation),
        method=Method(program="claywit", version=__version__, inference=INFERENCE),
        definitions=DEFINITIONS,
        limits=LIMITS,
        supersedes=terms.supersedes,
        log=terms.log,
    )


def opinion(model: Model, examined: Examined, standards: Standards, *, seed: int = SEED) -> Report:
    """Return the report that a certificate of *examined* carries, its draws from *seed*."""
    return assess(model, examined, standards, seed=seed)


def as_json(report: Report) -> dict[str, Any]:
    """Return *report* as JSON data."""
    found: dict[str, Any] = json.loads(report.model_dump_json(by_alias=True))
    return found


def data(name: str, source: Mapping[str, Any]) -> Data:
    """Return a data file with its digest."""
    return Data(id=name, digest=digest_of(source), source=dict(source))


def reliability(node: Node, finding: Finding) -> Reliability:
    """Return how far one reading can be trusted."""
    measures = finding.measures or {}
    return Reliability(
        visible=not finding.not_visible,
        form=form(finding),
        sure=finding.sure,
        matrix=finding.matrix,
        u={
            name: None if measure.value is None else uncertainty(node, name, measure)
            for name, measure in measures.items()
        },
        in_model=node.reading_error == "in_rows",
    )


def not_recorded(model: Model, examined: Examined) -> tuple[str, ...]:
    """Return the traits of which the evidence says nothing, not even why."""
    said = {finding.node for finding in examined.findings}
    said |= {*examined.not_examined, *examined.not_applicable}
    return tuple(node.name for node in model.nodes if node.is_trait and node.name not in said)


def _evaluation(figures: Mapping[str, Any] | None) -> Data | None:
    return None if figures is None else data(str(figures.get("format", "")), figures)
