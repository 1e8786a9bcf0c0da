"""Opinions again: the same numbers from what was kept, or other words from a newer model."""

import json
from collections.abc import Collection, Iterator
from datetime import datetime
from typing import Any, Literal

from claywit.errors import CasebookError, ClaywitError
from claywit.model.schema import Model
from claywit.model.values import Text, Value
from claywit.records.case import Case, Step, read_case, read_cases
from claywit.records.kept import Opinion, Words
from claywit.records.opinions import Formed, again, asked_by, form, save
from claywit.records.store import Store
from claywit.records.telling import words_said
from claywit.report.digest import digest
from claywit.report.standards import Standards

SHOWN = 20
SAME = 1e-9  # of probabilities, of bans and of log10 odds, as everywhere in claywit
# What a reader of the report would miss; a later claywit that no longer gave it would not replay.
ALWAYS = ("prior", "posterior", "log10_odds", "log10_evidence", "explanation", "leading")
# How an answer is worded may get better with time.
WORDING = ("statement", "cautions", "nodes", "format")
_ABSENT = object()
Path = tuple[str, ...]


class Replayed(Value):
    """One opinion formed again; *differences* is empty where all numbers are the same.

    compared: how many values. largest: the largest difference of two numbers.
    not_compared: what this version of claywit no longer reports.
    """

    case: str
    opinion: str
    made: str
    claywit: str
    compared: int
    largest: float
    differences: tuple[Text, ...]
    not_compared: tuple[Text, ...] = ()


class Reopened(Value):
    """One opinion beside what another model says on the same readings.

    certificates: the ids of those that were kept while this opinion held.
    """

    case: str
    opinion: str
    outcome: Literal["changed", "same", "cannot"]
    before: Words
    after: Words | None = None
    why: Text = ""
    certificates: tuple[Text, ...] = ()
    superseded: bool = False


def replay_all(store: Store, names: list[str]) -> list[Replayed]:
    """Return each stored opinion of the named cases, or of all, formed again."""
    with store.reading():
        cases = [read_case(store, name) for name in names] if names else read_cases(store)
        return [
            replay(store, case, step, opinion)
            for case in cases
            for step, opinion in case.of(Opinion)
        ]


def replay(store: Store, case: Case, step: Step, opinion: Opinion) -> Replayed:
    """Return what comes of forming a stored opinion again from what was kept with it."""
    said: dict[str, Any] = {
        "case": case.id,
        "opinion": step.digest,
        "made": step.time,
        "claywit": opinion.claywit,
    }
    try:
        stored = _kept_report(store.get(opinion.report))
        fresh = json.loads(again(store, case, opinion))
    except ClaywitError as wrong:
        why = (f"cannot be formed again: {wrong}"[:4000],)
        return Replayed(**said, compared=0, largest=0.0, differences=why)
    pairs = list(_pairs(stored, fresh, ()))
    there = [(path, one, other) for path, one, other in pairs if other is not _ABSENT]
    gone = [path for path, _, other in pairs if other is _ABSENT]
    apart = [_apart(one, other) for _, one, other in there]
    differences = [f"{_name(path)} is no longer given" for path in gone if path[0] in ALWAYS]
    differences += [
        f"{_name(path)}: {ascii(str(one))[:40]} then, {ascii(str(other))[:40]} now"
        for path, one, other in there
        if path[0] not in WORDING and path[-1] != "why" and _differ(one, other)
    ]
    return Replayed(
        **said,
        compared=len(there),
        largest=max((a for a in apart if a is not None), default=0.0),
        differences=tuple(differences[:SHOWN]),
        not_compared=tuple(_name(path) for path in gone if path[0] not in ALWAYS)[:SHOWN],
    )


def _kept_report(written: bytes) -> dict[str, Any]:
    """Return a report that was kept, which may have come in a bundle of anybody's making."""
    try:
        found = json.loads(written)
    except (ValueError, RecursionError):
        found = None
    if not isinstance(found, dict):
        raise CasebookError("what was kept is no report")
    return found


def _pairs(stored: Any, fresh: Any, path: Path) -> Iterator[tuple[Path, Any, Any]]:
    """Yield each value of *stored* with its path, and what *fresh* has there."""
    if isinstance(stored, dict) and isinstance(fresh, dict):
        for key, value in stored.items():
            yield from _pairs(value, fresh.get(key, _ABSENT), (*path, key))
    elif isinstance(stored, list) and isinstance(fresh, list):
        if len(stored) != len(fresh):
            yield (*path, "length"), len(stored), len(fresh)
        for i, (value, other) in enumerate(zip(stored, fresh, strict=False)):
            yield from _pairs(value, other, (*path, str(i)))
    else:
        yield path, stored, fresh


def _name(path: Path) -> str:
    return ascii(".".join(path))[1:-1][:120]


def _number(value: object) -> float | None:
    if isinstance(value, bool):
        return None
    try:
        return float(value) if isinstance(value, int | float | str) else None
    except ValueError:
        return None


def _apart(one: object, other: object) -> float | None:
    first, second = _number(one), _number(other)
    return None if first is None or second is None else abs(first - second)


def _differ(one: object, other: object) -> bool:
    apart = _apart(one, other)
    return one != other if apart is None else not apart <= SAME  # so that NaN differs


def reopen(
    store: Store,
    model: Model,
    standards: Standards,
    now: datetime,
    *,
    supersede: bool = False,
    but: Collection[str] = (),
) -> list[Reopened]:
    """Return what *model* says of every case on which a model of its name gave an opinion.

    Args:
        store: the casebook.
        model: the new model.
        standards: the verbal scale and the attribution policy.
        now: when this is done.
        supersede: whether an opinion whose words change is superseded; the old one stays.
        but: cases that are left out.
    """
    with store.reading():
        names = [case.id for case in read_cases(store) if case.opinions and case.id not in but]
    found: list[Reopened] = []
    for name in names:
        found += _reopen_case(store, name, model, standards, now if supersede else None)
    return found


def _reopen_case(
    store: Store, name: str, model: Model, standards: Standards, now: datetime | None
) -> list[Reopened]:
    """Reopen one case within one transaction; *now* is given where it may supersede."""
    found: list[Reopened] = []
    with store.writing() if now else store.reading():
        case = read_case(store, name)
        for step, opinion in case.opinions:
            if opinion.model_name != model.name or opinion.model == digest(model):
                continue
            outcome, formed = _compare(store, case, (step, opinion), model, standards)
            if formed and now and outcome.outcome == "changed":
                save(store, name, formed, now)
                outcome = outcome.model_copy(update={"superseded": True})
            found.append(outcome)
    return found


def _compare(
    store: Store, case: Case, held: tuple[Step, Opinion], model: Model, standards: Standards
) -> tuple[Reopened, Formed | None]:
    step, opinion = held
    said: dict[str, Any] = {
        "case": case.id,
        "opinion": step.digest,
        "before": opinion.words,
        "certificates": tuple(k.id for _, k in case.certificates if k.opinion == step.digest),
    }
    try:
        formed = form(store, case, model, standards, asked_by(case, opinion))
    except ClaywitError as wrong:
        return Reopened(**said, outcome="cannot", why=str(wrong)[:4000]), None
    after = formed.record.words
    outcome = "same" if _said(opinion.words) == _said(after) else "changed"
    return Reopened(**said, outcome=outcome, after=after), formed


def _said(words: Words) -> tuple[str, str, str, str | None]:
    return words.question, words.leading, words.attribution, words.term


def replays_said(found: list[Replayed]) -> str:
    """Return what a replay found, for a terminal."""
    lines = []
    for one in found:
        verdict = "same" if not one.differences else "DIFFERS"
        lines.append(
            f"{one.case}  {one.opinion[:12]}  {verdict}: {one.compared} values,"
            f" largest difference {one.largest:.1g}"
        )
        lines += [f"  {difference}" for difference in one.differences]
        lines += [f"  not compared: {path}" for path in one.not_compared]
    differ = sum(bool(one.differences) for one in found)
    verdict = f"{differ} do not give" if differ else "all give"
    lines.append(f"{len(found)} opinions formed again; {verdict} the numbers that were kept.")
    return "\n".join(lines)


def reopened_said(found: list[Reopened]) -> str:
    """Return which opinions another model would change, for a terminal; those come first."""
    lines = []
    for one in sorted(found, key=lambda r: ("changed", "cannot", "same").index(r.outcome)):
        if one.outcome == "cannot":
            lines.append(f"{one.case}: cannot be weighed: {one.why}")
        elif one.outcome == "changed" and one.after:
            lines.append(f"{one.case}: {words_said(one.before)}")
            done = "superseded by" if one.superseded else "would become"
            lines.append(f"  {done}: {words_said(one.after)}")
            lines += [f"  rests on it: certificate {id_}" for id_ in one.certificates]
    count = dict.fromkeys(("changed", "same", "cannot"), 0)
    for one in found:
        count[one.outcome] += 1
    lines.append(
        f"{len(found)} opinions weighed again: {count['changed']} in other words,"
        f" {count['same']} in the same, {count['cannot']} that cannot be."
    )
    return "\n".join(lines)
