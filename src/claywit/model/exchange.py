"""Models in the formats of others: BIF, XMLBIF, UAI, and JSON, which holds all of a model."""

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import PurePath
from typing import Any

import yaml

from claywit.errors import ModelError
from claywit.model.bif import read_bif, write_bif
from claywit.model.discrete import Discrete, as_model
from claywit.model.jsontext import read_json
from claywit.model.schema import Model, Node
from claywit.model.soundness import read_model, sound
from claywit.model.source import MAX_BYTES, Document, unseen
from claywit.model.typed import typed
from claywit.model.uai import read_uai, write_uai
from claywit.model.xmlbif import read_xmlbif, write_xmlbif

READERS: dict[str, Callable[[str, str], Discrete]] = {
    "bif": read_bif,
    "xmlbif": read_xmlbif,
    "uai": read_uai,
}
WRITERS: dict[str, Callable[[Discrete], str]] = {
    "bif": write_bif,
    "xmlbif": write_xmlbif,
    "uai": write_uai,
}
WHOLE = ("yaml", "json")  # formats that hold all of a model
SUFFIXES = {"yml": "yaml", "xml": "xmlbif"}


@dataclass(frozen=True)
class Lost:
    """Something that a format cannot hold, and whether an answer would change without it."""

    what: str
    changes_answers: bool = False


def format_of(file: str) -> str:
    """Return the format that the ending of a file's name stands for.

    Raises:
        ModelError: it stands for none.
    """
    ending = PurePath(file).suffix.removeprefix(".").lower()
    found = SUFFIXES.get(ending, ending)
    if found not in (*WHOLE, *READERS):
        known = ", ".join(f".{name}" for name in (*WHOLE, "bif", "xmlbif", "xml", "uai"))
        raise ModelError(f"{file}: what format it is does not show; end its name in {known}")
    return found


def read_exchanged(content: bytes, file: str, targets: Sequence[str] = ()) -> Model:
    """Return the sound model in *content*, in the format that the name *file* stands for.

    Raises:
        ModelError: it cannot be read whole, is not sound, or states no *targets* itself
            and none are given here.
    """
    kind = format_of(file)
    if kind in WHOLE and targets:
        raise ModelError(f"{file}: states its own targets; leave --target out")
    if kind == "yaml":
        return read_model(content, file)
    if len(content) > MAX_BYTES:
        raise ModelError(f"{file}: more than the {MAX_BYTES:,} bytes that are read")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as wrong:
        raise ModelError(f"{file}: byte {wrong.start} is not UTF-8; save it as UTF-8") from None
    if kind == "json":
        model = _from_json(text, file)
    else:
        model = as_model(READERS[kind](text, file), file, targets)
    for said in filter(None, map(unseen, _texts(model.model_dump(mode="json")))):
        raise ModelError(f"{file}: {said}")  # an escape of JSON or XML can spell any character
    return model


def _texts(value: Any) -> Iterator[str]:
    """Yield all text in plain data, keys included."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for part in (*value, *value.values()):
            yield from _texts(part)
    elif isinstance(value, list):
        for part in value:
            yield from _texts(part)


def _from_json(text: str, file: str) -> Model:
    try:
        data = read_json(text)
    except json.JSONDecodeError as wrong:
        raise ModelError(f"{file}:{wrong.lineno}: not whole JSON: {wrong.msg}") from None
    except ValueError as wrong:
        raise ModelError(f"{file}: {wrong}") from None
    return sound(typed(Model, Document(file, data, {}), ModelError), file)


def write_whole(model: Model, kind: str) -> str:
    """Return all of *model* as JSON or YAML; a default that nobody wrote is left out."""
    data = model.model_dump(mode="json", by_alias=True, exclude_unset=True, exclude_none=True)
    if kind == "json":
        return json.dumps(data, indent=1, ensure_ascii=False) + "\n"
    data["nodes"] = _by_name([_as_people_write(node) for node in data["nodes"]])
    if "groups" in data:
        data["groups"] = _by_name(data["groups"])
    text: str = yaml.dump(
        data,
        Dumper=_Dumper,
        default_flow_style=None,
        sort_keys=False,
        allow_unicode=True,
        width=140,
    )
    return text


class _Flow(dict[str, Any]):
    """A mapping that is written on one line."""


class _Dumper(yaml.CSafeDumper):
    """Writes plain data, some of it on one line, and nothing by reference."""

    def ignore_aliases(self, data: object) -> bool:  # noqa: ARG002 - of what is written
        return True


_Dumper.add_representer(
    _Flow, lambda dumper, data: dumper.represent_mapping("tag:yaml.org,2002:map", data, True)
)


_Dumper.add_representer(
    float,
    lambda dumper, value: (
        dumper.represent_int(int(value))
        if value.is_integer() and abs(value) < 2**53
        else dumper.represent_float(value)
    ),
)


def _by_name(entries: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """Return named values as people write them, so that messages find their lines too."""
    return {entry.pop("name"): entry for entry in entries}


def _as_people_write(node: dict[str, Any]) -> dict[str, Any]:
    """Return a node with states by name, and a line for each state and row."""
    told = dict(node)
    if states := node.get("states"):
        bare = all(list(state) == ["name"] for state in states)
        named = {state.pop("name"): _Flow(state) for state in states}
        told["states"] = [*named] if bare else named
    if rows := node.get("rows"):
        told["rows"] = [_Flow(_short(row)) for row in rows]
    return told


def _short(row: dict[str, Any]) -> dict[str, Any]:
    """Return a row with one state instead of a list of one."""
    given = {k: v[0] if len(v) == 1 else v for k, v in row.get("given", {}).items()}
    return {**row, "given": given} if "given" in row else row


def lost(model: Model, kind: str, read_as: str) -> tuple[Lost, ...]:
    """Return what the format *kind* cannot hold of *model*, which was *read_as* another."""
    if kind in WHOLE:
        return ()
    own = _lost(model) if read_as in WHOLE else _respelt(model)
    return (*own, *([Lost("the names of nodes and states")] if kind == "uai" else []))


def _respelt(model: Model) -> Iterator[Lost]:
    """Yield how names were spelt in a file that stated nothing else; claywit kept it as labels."""
    labels = [label for node in model.nodes for label in (node.label, *_labels(node)) if label]
    if labels:
        yield Lost(f"the spelling of {_shown(labels)}")


def _labels(node: Node) -> Iterator[str]:
    return (state.label for state in node.states)


def _lost(model: Model) -> Iterator[Lost]:
    nodes = model.nodes
    yield from _named("measured", [n.name for n in nodes if n.measured])
    yield from _named("visibility of", [n.name for n in nodes if n.visibility and n.states])
    yield from _named("applies_if of", [n.name for n in nodes if n.applies_if and n.states])
    in_rows = [n.name for n in nodes if n.reading_error == "in_rows"]
    yield from _named("reading_error of", in_rows)
    yield from _named("reading matrices", [*model.reading_matrices])
    if model.order:
        yield Lost("what the order of events says", changes_answers=True)
    if any(row.n for node in nodes for row in node.rows):
        yield Lost("n, on which intervals rest")
    yield Lost("targets, sources, notes, labels, descriptions, groups, what it takes to look")


def _named(what: str, names: Sequence[str]) -> Iterator[Lost]:
    if names:
        yield Lost(f"{what} {_shown(names)}", changes_answers=True)


def _shown(names: Sequence[str]) -> str:
    return ", ".join(names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "")
