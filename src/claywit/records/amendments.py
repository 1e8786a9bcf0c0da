"""What changed in locked readings, when, and why: read off the log, so that none is left out."""

from collections.abc import Iterator
from itertools import pairwise

from claywit.evidence.written import Amendment, Evidence, Written, WrittenMeasure, read_evidence
from claywit.records.case import Case, Step
from claywit.records.kept import Examination, Opinion
from claywit.records.store import Store

NOT_SAID = "not mentioned"
ROOM = 1000  # letters of what an amendment says was there


def amendments(store: Store, case: Case, step: Step) -> tuple[Amendment, ...]:
    """Return how the readings of *step* came from those that were locked first, oldest first."""
    chain = _chain(case, step)
    found: list[Amendment] = []
    for (_, before), (at, after) in pairwise(chain):
        texts = (store.get(record.evidence) for record in (before, after))
        one, other = (read_evidence(text, case.id)[0] for text in texts)
        seen = _opinion_before(case, at, [s.digest for s, _ in chain])
        found += [
            Amendment(
                at=at.time, about=about, was=was, now=now, reason=after.reason, opinion_seen=seen
            )
            for about, was, now in _differences(one, other)
        ]
    return tuple(found)


def _chain(case: Case, step: Step) -> list[tuple[Step, Examination]]:
    """Return the readings from the first lock to those of *step*."""
    by_digest = {s.digest: (s, record) for s, record in case.of(Examination)}
    chain = [by_digest[step.digest]]
    while (earlier := chain[0][1].amends) in by_digest and earlier is not None:
        chain.insert(0, by_digest[earlier])
    return chain


def _opinion_before(case: Case, at: Step, readings: list[str]) -> bool:
    """Return whether an opinion on these readings was formed before they were amended."""
    steps = case.steps[: case.steps.index(at)]
    opinions = [s.record for s in steps if isinstance(s.record, Opinion)]
    return any(opinion.examination in readings for opinion in opinions)


def _differences(one: Evidence, other: Evidence) -> Iterator[tuple[str, str, str]]:
    """Yield what differs: the trait, or `terms` for all beside the readings, then and now."""
    names = dict.fromkeys((*one.findings, *one.not_examined, *other.findings, *other.not_examined))
    for name in names:
        was, now = _said(one, name), _said(other, name)
        if was != now:
            yield name, *_cut(was, now)
    readings = ("findings", "not_examined", "readings")
    beside = [e.model_dump(exclude=set(readings)) for e in (one, other)]
    if beside[0] != beside[1]:
        changed = [key for key in beside[0] if beside[0][key] != beside[1][key]]
        yield "terms", "as locked", f"changed: {', '.join(changed)}"


def _said(evidence: Evidence, name: str) -> str:
    if name in evidence.not_examined:
        return f"not examined: {evidence.not_examined[name]}"
    written = evidence.findings.get(name)
    if written is None:
        return NOT_SAID
    beside = [part for part in (written.method, written.where, written.note) if part]
    return "; ".join([_reading(written), *beside])


def _cut(was: str, now: str) -> tuple[str, str]:
    """Return both as long as an amendment has room for, from where they begin to differ."""
    if max(len(was), len(now)) <= ROOM:
        return was, now
    pairs = enumerate(zip(was, now, strict=False))
    alike = next((i for i, (a, b) in pairs if a != b), min(len(was), len(now)))
    start = 0 if alike < ROOM // 2 else alike - ROOM // 4
    before = "…" if start else ""
    one, other = (f"{before}{text[start:]}" for text in (was, now))
    return _at_most(one), _at_most(other)


def _at_most(text: str) -> str:
    return text if len(text) <= ROOM else f"{text[: ROOM - 1]}…"


def _reading(written: Written) -> str:
    if written.not_visible is not None:
        return f"not visible: {written.not_visible}" if written.not_visible else "not visible"
    state = written.says or written.state
    if state:
        sure = None if written.sure is None else f"sure {_exactly(written.sure)}"
        how = sure or written.reading
        return f"{state} ({how})" if how else state
    if written.likelihood is not None:
        return ", ".join(f"{s} {_exactly(p)}" for s, p in written.likelihood.items())
    measures = {"": written.measure} if written.measure else written.measures
    return ", ".join(f"{name} {_measure(one)}".strip() for name, one in measures.items() if one)


def _exactly(number: float) -> str:
    """Return a number so that no other is written alike."""
    short = f"{number:g}"
    return short if float(short) == number else repr(number)


def _measure(one: WrittenMeasure) -> str:
    if one.value is not None:
        return f"{one.value} ± {one.u}" if one.u else one.value
    if one.between:
        return f"between {one.between[0]} and {one.between[1]}"
    return f"below {one.below}" if one.below else f"above {one.above}"
