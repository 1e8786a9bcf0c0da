"""A draft: what an examiner has entered so far, and every step of it, so that it can be undone.

A draft is the readings before they are locked, or the readings of a practice piece, which are
never locked. It may hold answers that are not finished; only finished ones are weighed.
"""

from collections.abc import Mapping
from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field

from claywit.errors import EvidenceError
from claywit.evidence.meaning import NOT_APPLICABLE
from claywit.evidence.written import Engagement, ObjectId, Propositions
from claywit.model.values import Name, Probability, StateName, Text, Value, number
from claywit.records.kept import refuse_unseen
from claywit.records.log import Digest

STEPS = 200  # that can be undone
TOGETHER = 8.0  # seconds within which typing in one field is one step
TYPED = ("note", "where", "method", "why", "measures", "likelihood")
DraftId = Annotated[str, Field(pattern=r"^[0-9a-f]{16}$")]
Time = Annotated[str, Field(max_length=40)]
Typed = Annotated[Text, AfterValidator(refuse_unseen)]
Short = Annotated[Typed, Field(max_length=40)]
Way = Literal[  # "": only noted so far
    "", "seen", "half", "likelihood", "hidden", "nothing", "unexamined", "measured"
]


class Measured(Value):
    """A measure as typed, a number with a point; *u* is its standard uncertainty, if given.

    limit: what *value* is where it only bounds the measure; *upper* is the other end of `between`.
    """

    value: Short = ""
    u: Short = ""
    unit: Annotated[Typed, Field(max_length=20)] = ""
    limit: Literal["", "below", "above", "between"] = ""
    upper: Short = ""


class Reading(Value):
    """An answer about one trait, finished or not.

    way: which of the ways of answering. sure: of a half certain state, or *matrix*, the reading
    matrix of the model that says how such readings err. likelihood: as typed, how probable what
    was seen would be under each state (`other` for the rest). why: of what is not visible, not
    applicable or not examined. photographs: by the digest of the clean copy. copied_from: the
    piece whose reading was confirmed to be the same here.
    """

    way: Way
    state: StateName | Literal[""] = ""
    sure: Probability | None = None
    matrix: Name | Literal[""] = ""
    likelihood: Annotated[dict[StateName, Short], Field(max_length=200)] = {}
    why: Typed = ""
    measures: Annotated[dict[Name, Measured], Field(max_length=50)] = {}
    method: Typed = ""
    where: Typed = ""
    note: Typed = ""
    photographs: Annotated[tuple[Digest, ...], Field(max_length=100)] = ()
    copied_from: Typed = ""

    @property
    def is_finished(self) -> bool:
        """Return whether enough is said for the reading to mean something."""
        if self.way == "seen":
            return bool(self.state)
        if self.way == "half":
            return bool(self.state) and (self.sure is not None or bool(self.matrix))
        if self.way == "likelihood":
            return any(one.strip() for one in self.likelihood.values())
        if self.way == "measured":
            said = [one for one in self.measures.values() if one.value.strip()]
            return bool(said) and all(one.upper.strip() for one in said if one.limit == "between")
        return bool(self.way)


class Step(Value):
    """One change of one trait: what stood there before, and what after; None for nothing."""

    node: Name
    part: Annotated[str, Field(max_length=40)] = ""
    before: Reading | None
    after: Reading | None
    at: Time


class Draft(Value):
    """A draft, by *version*; who saves must have seen the version before.

    model: the name of the model whose traits were read.
    """

    format: Literal["claywit-draft/1"] = "claywit-draft/1"
    id: DraftId
    version: Annotated[int, Field(ge=1)] = 1
    practice: bool = False
    model: Text = ""
    piece: ObjectId
    examiner: Typed = ""
    question: Name | None = None
    propositions: Propositions | None = None
    engagement: Engagement | None = None
    priors: Annotated[dict[Name, dict[StateName, Probability]], Field(max_length=50)] = {}
    sequence: Annotated[tuple[tuple[Name, ...], ...], Field(max_length=50)] = ()
    readings: dict[Name, Reading] = {}
    notes: Typed = ""
    done: tuple[Step, ...] = ()
    undone: tuple[Step, ...] = ()
    saved: Time = ""


def change(
    draft: Draft, node: str, after: Reading | None, now: datetime, *, part: str = ""
) -> Draft:
    """Return the draft with another answer about *node*; None takes the answer away.

    What is typed in one field (*part*) without a pause is one step.
    """
    before = draft.readings.get(node)
    if before == after:
        return draft
    step = Step(node=node, part=part, before=before, after=after, at=now.isoformat())
    last = draft.done[-1] if draft.done else None
    done = draft.done
    if last and part in TYPED and (last.node, last.part) == (node, part):
        pause = now - datetime.fromisoformat(last.at)
        if 0 <= pause.total_seconds() < TOGETHER:
            step = step.model_copy(update={"before": last.before})
            done = done[:-1]
    return _with(draft, node, after, now).model_copy(
        update={"done": (*done, step)[-STEPS:], "undone": ()}
    )


def undo(draft: Draft, now: datetime) -> tuple[Draft, str | None]:
    """Return the draft without its last step, and the trait that changed, if there was a step."""
    if not draft.done:
        return draft, None
    step = draft.done[-1]
    moved = {"done": draft.done[:-1], "undone": (*draft.undone, step)}
    return _with(draft, step.node, step.before, now).model_copy(update=moved), step.node


def redo(draft: Draft, now: datetime) -> tuple[Draft, str | None]:
    """Return the draft with the step that was last undone, and the trait that changed."""
    if not draft.undone:
        return draft, None
    step = draft.undone[-1]
    moved = {"done": (*draft.done, step), "undone": draft.undone[:-1]}
    return _with(draft, step.node, step.after, now).model_copy(update=moved), step.node


def amended(draft: Draft, node: str, after: Reading | None, now: datetime) -> Draft:
    """Return the draft with a locked reading changed; an amendment is no step to be undone."""
    return _with(draft, node, after, now).model_copy(update={"done": (), "undone": ()})


def newer(draft: Draft, now: datetime, **said: Any) -> Draft:
    """Return the next version of a draft, with what is *said* beside its readings."""
    saved = now.isoformat(timespec="seconds")
    return draft.model_copy(update={**said, "version": draft.version + 1, "saved": saved})


def _with(draft: Draft, node: str, reading: Reading | None, now: datetime) -> Draft:
    rest = {name: held for name, held in draft.readings.items() if name != node}
    readings = rest if reading is None else {**rest, node: reading}
    return newer(draft, now, readings=readings)


def finding(reading: Reading) -> dict[str, Any]:
    """Return a finished reading as an evidence file writes it.

    Raises:
        EvidenceError: it is not finished.
    """
    if not reading.is_finished:
        raise EvidenceError("the answer is not finished")
    said: dict[str, Any] = {}
    if reading.way in ("seen", "half"):
        said["state"] = reading.state
    if reading.way == "half":
        said |= {"reading": reading.matrix} if reading.matrix else {"sure": reading.sure}
    if reading.way == "likelihood":
        typed = reading.likelihood.items()
        said["likelihood"] = {state: _number(one) for state, one in typed if one.strip()}
    if reading.way == "nothing":
        said["state"] = NOT_APPLICABLE
    if reading.way == "hidden":
        said["not_visible"] = reading.why.strip()
    if reading.way == "measured":
        said |= _measures(reading.measures)
    for part in ("method", "where", "note"):
        if getattr(reading, part).strip():
            said[part] = getattr(reading, part)
    return said


def _number(typed: str) -> float | str:
    """Return the number that was typed, or what was typed: the reader of evidence judges it."""
    try:
        return number(typed.strip())
    except ValueError:
        return typed


def _measures(measures: Mapping[str, Measured]) -> dict[str, dict[str, Any]]:
    return {name: _measure(one) for name, one in measures.items() if one.value.strip()}


def _measure(one: Measured) -> dict[str, Any]:
    value, u, upper = (
        f"{typed.strip()} {one.unit}" if typed.strip() else ""
        for typed in (one.value, one.u, one.upper)
    )
    if one.limit == "between":
        return {"between": [value, upper]}
    if one.limit:
        return {one.limit: value}
    return {"value": value, **({"u": u} if u else {})}
