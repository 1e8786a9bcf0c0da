"""An evidence file as a person writes it, before a model gives its words a meaning."""

import re
from itertools import pairwise
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from claywit.errors import EvidenceError, did_you_mean
from claywit.model.source import Document
from claywit.model.typed import read_typed
from claywit.model.values import Name, Number, Probability, StateName, Text, Value

Limits = tuple[Text, Text]
Likelihood = Annotated[Number, Field(ge=0)]


def _text_is_value(value: object) -> object:
    return {"value": value} if isinstance(value, str) else value


class WrittenMeasure(Value):
    """One measure: `43.5 mm`, a value with its `u`, or the limits it lies between."""

    value: Text | None = None
    u: Text | None = None
    below: Text | None = None
    above: Text | None = None
    between: Limits | None = None

    @model_validator(mode="after")
    def _says_one_thing(self) -> Self:
        said = [k for k in ("value", "below", "above", "between") if getattr(self, k) is not None]
        if len(said) != 1:
            raise ValueError("a measure is one of value, below, above, between")
        if self.u is not None and self.value is None:
            raise ValueError("u goes with a value; limits hold their own doubt")
        return self


class Written(Value):
    """One finding as written; *says* is the short form `arch_contact: right_shoulder`."""

    says: Text | None = None
    state: StateName | None = None
    sure: Probability | None = None
    reading: Name | None = None
    likelihood: dict[StateName, Likelihood] | None = None
    not_visible: Text | None = None
    measure: WrittenMeasure | None = None
    measures: dict[Name, Annotated[WrittenMeasure, BeforeValidator(_text_is_value)]] = {}
    method: Text = ""
    where: Text = ""
    note: Text = ""

    @model_validator(mode="before")
    @classmethod
    def _sort_out(cls, value: Any) -> Any:
        """Take the short form, and gather what measures a finding has."""
        if isinstance(value, str):
            return {"says": value}
        if not isinstance(value, dict) or "measures" in value or "measure" in value:
            return value
        limits = {k: v for k, v in value.items() if k in WrittenMeasure.model_fields}
        own = {k: v for k, v in value.items() if k in cls.model_fields and k not in limits}
        rest = {k: v for k, v in value.items() if k not in own and k not in limits}
        _without_decimal_comma(value)
        if set(limits) == {"u"} and rest:
            raise ValueError("put u inside each measure, as height: {value: 43.5 mm, u: 0.1 mm}")
        return {**own, **({"measure": limits} if limits else {}), "measures": rest}

    @model_validator(mode="after")
    def _has_one_form(self) -> Self:
        forms = ("says", "state", "likelihood", "not_visible", "measure")
        said = [k for k in forms if getattr(self, k) is not None]
        said += ["measures"] if self.measures else []
        if said and said[0] != "measures" and self.measures:
            stray = next(iter(self.measures))
            raise ValueError(f"{stray} is no key of a finding; {_nearest(stray)}")
        if len(said) != 1:
            found = " and ".join(said) or "none"
            raise ValueError(
                f"found {found}; a finding is one of a state, a likelihood, not_visible"
                " or a measure"
            )
        if (self.sure is not None or self.reading) and self.state is None:
            raise ValueError("`sure` and `reading` go with `state`")
        if self.sure is not None and self.reading:
            raise ValueError("`sure` and `reading` are two answers to one question; give one")
        return self


def _nearest(stray: str) -> str:
    if stray in ("confidence", "certainty"):
        return "did you mean sure?"
    keys = ["state", "sure", "reading", "likelihood", "not_visible", "method", "where", "note"]
    return did_you_mean(stray, keys)


def _without_decimal_comma(value: Any) -> Any:
    """Return *value*, unless it is `{height: 43,5 mm}`, which YAML reads as two entries.

    Raises:
        ValueError: an entry without a value begins with a digit and follows a number.
    """
    entries = value.items() if isinstance(value, dict) else ()
    for (key, before), (after, empty) in pairwise(entries):
        follows = isinstance(before, str) and re.fullmatch(r"\d+", before)
        if follows and empty == "" and re.match(r"\d", str(after)):
            raise ValueError(
                f"{key}: {before},{after} has a decimal comma; write {before}.{after} with a point"
            )
    return value


class ObjectId(Value):
    """The piece, in the fields of the Object ID standard."""

    id: Annotated[str, Field(min_length=1, max_length=120)]
    type: Text = ""
    materials: Text = ""
    measurements: Text = ""
    inscriptions: Text = ""
    distinguishing_features: Text = ""
    title: Text = ""
    subject: Text = ""
    date: Text = ""
    maker: Text = ""
    description: Text = ""
    inventory_number: Text = ""
    place: Text = ""
    related: Text = ""
    photographs: tuple[Text, ...] = ()


class Propositions(Value):
    """The two propositions to weigh against each other, and when they were stated."""

    for_: Annotated[str, Field(alias="for", max_length=400)]
    against: Annotated[str, Field(max_length=400)]
    stated_at: Text = ""


class Engagement(Value):
    """For whom, for what use, and with what interest the piece was examined."""

    client: Text = ""
    intended_use: Text = ""
    intended_users: tuple[Text, ...] = ()
    effective_date: Text = ""
    interest: Text = ""
    told_beforehand: Text = ""


class Amendment(Value):
    """A locked reading that was changed: which, when, from what to what, and why.

    about: the trait, or `terms` for what is said beside the readings.
    opinion_seen: whether an opinion had been formed on the readings by then.
    """

    at: Text
    about: Name
    was: Text
    now: Text
    reason: Text
    opinion_seen: bool


class Readings(Value):
    """When readings were locked, whether provenance was masked until then, what changed since."""

    locked_at: Text = ""
    masked: bool = False
    amendments: tuple[Amendment, ...] = ()


class Evidence(Value):
    """An evidence file: what one examiner found on one piece."""

    format: Literal["claywit-evidence/1"]
    piece: ObjectId
    examiner: Text = ""
    question: Name | None = None
    findings: Annotated[dict[Name, Written], BeforeValidator(_without_decimal_comma)] = {}
    not_examined: dict[Name, Text] = {}
    propositions: Propositions | None = None
    engagement: Engagement | None = None
    readings: Readings | None = None
    priors: dict[Name, dict[StateName, Probability]] = {}
    sequence: tuple[tuple[Name, ...], ...] = ()
    notes: Text = ""


def read_evidence(text: bytes, name: str) -> tuple[Evidence, Document]:
    """Return the evidence that *text* holds, with the document that knows its lines.

    Raises:
        EvidenceError: the text cannot be read, or is not of the form of an evidence file.
    """
    return read_typed(Evidence, text, name, EvidenceError)
