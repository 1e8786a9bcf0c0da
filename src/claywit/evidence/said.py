"""What the cells of one piece say together of one node, in any form that evidence may have."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from pydantic import ValidationError

from claywit.evidence.columns import Part
from claywit.evidence.findings import Finding
from claywit.evidence.meaning import meaning
from claywit.evidence.written import Written
from claywit.model.sayings import saying
from claywit.model.schema import Model, Node
from claywit.model.values import number

Cell = Any  # a text, a number, None, or a finding as an evidence file may write it
REMARKS = ("method", "where", "note", "not_visible")
_LONGEST = 200  # characters of a cell


def meaning_of(model: Model, node: Node, said: Mapping[Part, Cell]) -> Finding | str:
    """Return the finding that cells state together, or why they state none."""
    try:
        _refuse_long(said.values())
        written = Written.model_validate(_measured(node, said) if node.measured else _stated(said))
        finding = meaning(node, written, model)
        # What was noted beside a finding weighs nothing; without it, a plain one stays plain.
        return replace(finding, method="", where="", note="", why="")
    except ValidationError as wrong:
        return saying(wrong.errors()[0], Written)
    except ValueError as wrong:
        return str(wrong)


def _refuse_long(cells: Iterable[Cell]) -> None:
    longest = max((len(cell) for cell in cells if isinstance(cell, str)), default=0)
    if longest > _LONGEST:
        raise ValueError(f"{longest:,} characters in one cell; a state or a measure is expected")


def _stated(said: Mapping[Part, Cell]) -> Cell:
    more = {part.key: cell for part, cell in said.items() if part.key}
    main = next((cell for part, cell in said.items() if not part.key), None)
    if isinstance(main, int) and not isinstance(main, bool):
        main = str(main)
    if not isinstance(main, str | dict) and main is not None:
        raise ValueError(f"found {str(main)[:60]}; a state is expected, written as text")
    if isinstance(main, dict):
        main = {key: _as_text(value) for key, value in main.items()}
    if not more:
        return main
    if isinstance(main, dict):
        raise ValueError(f"{next(iter(more))} stands in two places; keep one")  # noqa: TRY004
    if main is None:
        raise ValueError(f"{next(iter(more))} is given without a state")
    return {"state": main, **more}


def _as_text(value: Cell) -> Cell:
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    return repr(value) if is_number else value


def _measured(node: Node, said: Mapping[Part, Cell]) -> Cell:
    main = said.get(Part(node.name))
    rest = {part: cell for part, cell in said.items() if part.key}
    unit = next(iter(node.measured.values()))
    if not rest:
        return _with_units(node, main, unit)
    if isinstance(main, dict):
        raise ValueError("is given in two places; keep one")  # noqa: TRY004
    if main is not None and len(node.measured) > 1:
        raise ValueError(f"has several measures; name them: {', '.join(node.measured)}")
    measures: dict[str, dict[str, Cell]] = {}
    for part, cell in rest.items():
        own = measures.setdefault(part.measure, {})
        own[part.key] = _with_units(node, cell, node.measured[part.measure])
    if main is not None:
        own = next(iter(measures.values()))
        if "value" in own:
            raise ValueError("is given in two places; keep one")
        own["value"] = _with_units(node, main, unit)
    for own in measures.values():
        if "below" in own and "above" in own:
            own["between"] = [own.pop("above"), own.pop("below")]
    return {"measures": measures}


def _with_units(node: Node, value: Cell, unit: str) -> Cell:
    """Return *value* with the node's own unit behind every bare number."""
    if isinstance(value, dict):
        return {
            k: v if k in REMARKS else _with_units(node, v, node.measured.get(k, unit))
            for k, v in value.items()
        }
    if isinstance(value, list):
        return [_with_units(node, each, unit) for each in value]
    try:
        number(value)
    except ValueError:
        return value
    return f"{value} {unit}"
