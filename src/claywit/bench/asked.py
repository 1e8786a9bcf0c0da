"""What a page sent, as values: every part of it is taken for hostile until it fits."""

from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError

from claywit.bench.desk import Desk
from claywit.bench.draft import Reading
from claywit.bench.web import Refused
from claywit.records.kept import refuse_unseen

LONG = 4000  # letters of one field
MANY = 100  # times that a field may stand in a form
MOST_YAML = 500_000  # bytes of a YAML file, which takes a hundred times as many to read


def version_of(data: dict[str, Any]) -> int:
    """Return the version of the draft that a page has seen."""
    version = data.get("version")
    if not isinstance(version, int) or isinstance(version, bool):
        raise Refused(400, "The version is missing.")
    return version


def trait_of(desk: Desk, name: object) -> str:
    """Return the name of a trait of the model."""
    node = desk.model.by_name.get(str(name))
    if node is None or not node.is_trait:
        raise Refused(400, "The model has no such trait.")
    return node.name


def reading_of(value: object) -> Reading | None:
    """Return the answer that a page sent; None takes an answer away."""
    try:
        return None if value is None else Reading.model_validate(value)
    except ValidationError as wrong:
        raise refused(wrong) from None


def refused(wrong: ValidationError) -> Refused:
    """Return in one sentence what does not fit."""
    first = wrong.errors()[0]
    where = ", ".join(str(part) for part in first["loc"])[:120]
    said = str(first["msg"]).removeprefix("Value error, ")
    return Refused(422, f"{where}: {said}." if where else f"{said}.")


def text_of(data: Mapping[str, Any], name: str) -> str:
    """Return one field of a form, empty where it was not sent."""
    value = data.get(name)
    if value is None:
        return ""
    if not isinstance(value, str) or len(value) > LONG:
        raise Refused(422, f"{name[:60]}: a text of at most {LONG} letters is expected.")
    try:
        return refuse_unseen(value)
    except ValueError as wrong:
        raise Refused(422, f"{name[:60]}: {wrong}.") from None


def texts_of(data: Mapping[str, Any], name: str) -> tuple[str, ...]:
    """Return a field of a form that may stand there several times."""
    value = data.get(name)
    values = value if isinstance(value, list) else [] if value is None else [value]
    return tuple(text_of({name: one}, name) for one in values[:MANY])
