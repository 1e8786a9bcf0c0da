"""What a page sent, as values: every part of it is taken for hostile until it fits."""

from typing import Any

from pydantic import ValidationError

from claywit.bench.desk import Desk
from claywit.bench.draft import Reading
from claywit.bench.web import Refused


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
