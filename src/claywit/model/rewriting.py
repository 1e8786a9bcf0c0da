"""New values in the text of a model file, in place: comments, order and layout stay.

A value is written over the old one and nothing else of the text is touched, so that a
person finds the file as it was left, and a comparison of two files shows what changed.
"""

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import yaml

from claywit.errors import ModelError
from claywit.model.source import Path, read_document

# What needs no quotes, in `{ }` as well; a reader of claywit takes every plain scalar as text.
_PLAIN = re.compile(r"-?[A-Za-z0-9_.+/(](?:[A-Za-z0-9_.+/()%;=' -]*[A-Za-z0-9_.+/()%;='-])?")


@dataclass
class _Spot:
    """A value in the text: from *start* to *end*, and what it holds by key or place."""

    start: int
    end: int = 0
    kind: str = "text"
    flow: bool = False
    column: int = 0
    parts: dict[str | int, "_Spot"] = field(default_factory=dict)
    words: str = ""

    def at(self, step: str | int) -> "_Spot | None":
        """Return the part of that key or place; a named entry of a list by its name."""
        if self.kind == "list" and isinstance(step, str):
            named = (spot for spot in self.parts.values() if spot.parts.get("name"))
            return next((spot for spot in named if spot.parts["name"].words == step), None)
        return self.parts.get(step)


@dataclass(frozen=True, order=True)
class _Edit:
    start: int
    end: int
    text: str


def rewrite(text: str, changes: Mapping[Path, object], name: str) -> str:
    """Return *text* with the value at each path changed; a key that is not there is added.

    A new mapping that has the keys of the old one is written into it value by value;
    any other value takes the place of the old one.

    Args:
        text: a YAML document in the form that claywit reads.
        changes: for a path of the file text, a number, or mappings and lists of them.
        name: what messages call the file.

    Raises:
        ModelError: the text cannot be read, or a path goes through something that is not there.
    """
    text = text.removeprefix("\ufeff")
    read_document(text.encode(), name, ModelError)
    root = _spots(text)
    edits: list[_Edit] = []
    added: dict[Path, dict[str, Any]] = {}
    for path, value in changes.items():
        depth, spot = _deepest(root, path)
        if depth == len(path):
            edits += _over(spot, value)
            continue
        if spot.kind != "map" or isinstance(path[depth], int):
            where = ", ".join(str(step) for step in path)
            raise ModelError(f"{name}: {where}: there is no such place to write to")
        _nest(added.setdefault(path[:depth], {}), path[depth:], value)
    for path, entries in added.items():
        edits.append(_into(_deepest(root, path)[1], entries, text))
    for edit in sorted(edits, reverse=True):
        text = text[: edit.start] + edit.text + text[edit.end :]
    return text


def next_version(version: str) -> str:
    """Return the version of a model whose numbers changed: the second figure one higher."""
    major, minor, _ = version.split(".")
    return f"{major}.{int(minor) + 1}.0"


def _deepest(root: _Spot, path: Path) -> tuple[int, _Spot]:
    spot = root
    for depth, step in enumerate(path):
        below = spot.at(step)
        if below is None:
            return depth, spot
        spot = below
    return len(path), spot


def _nest(into: dict[str, Any], path: Path, value: object) -> None:
    for step in path[:-1]:
        into = into.setdefault(str(step), {})
    into[str(path[-1])] = value


def _over(spot: _Spot, value: object) -> list[_Edit]:
    if isinstance(value, Mapping) and spot.kind == "map" and set(value) == set(spot.parts):
        return [edit for key, one in value.items() for edit in _over(spot.parts[key], one)]
    return [_Edit(spot.start, spot.end, written(value))]


def _into(spot: _Spot, entries: Mapping[str, object], text: str) -> _Edit:
    """Return the edit that adds *entries* behind the last one of a mapping."""
    if spot.flow:
        more = ", ".join(f"{written(key)}: {written(value)}" for key, value in entries.items())
        if not spot.parts:
            return _Edit(spot.start + 1, spot.start + 1, more)
        end = list(spot.parts.values())[-1].end
        return _Edit(end, end, f", {more}")
    indent = " " * spot.column
    lines = [f"{indent}{written(key)}: {written(value)}\n" for key, value in entries.items()]
    end = list(spot.parts.values())[-1].end
    # A comment at the end of the last line stays with it.
    newline = end - 1 if text[end - 1] == "\n" else text.find("\n", end)
    if newline < 0:
        return _Edit(len(text), len(text), "\n" + "".join(lines))
    return _Edit(newline + 1, newline + 1, "".join(lines))


def written(value: object) -> str:
    """Return a value as it is written in a file, on one line."""
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{written(k)}: {written(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(written(one) for one in value) + "]"
    if isinstance(value, int | float):
        return f"{value:.12g}"
    plain = _PLAIN.fullmatch(str(value))
    return str(value) if plain else json.dumps(str(value), ensure_ascii=False)


def _spots(text: str) -> _Spot:
    """Return where every value of a document stands; `read_document` has refused the rest."""
    open_: list[tuple[_Spot, str | None]] = []
    root = _Spot(0)
    for event in yaml.parse(text, Loader=yaml.CSafeLoader):
        if isinstance(event, yaml.CollectionEndEvent):
            done, _ = open_.pop()
            # A block ends where its last value does; what follows may be another's comment.
            last = list(done.parts.values())[-1:]
            done.end = last[0].end if last and not done.flow else _end(event)
        elif isinstance(event, yaml.NodeEvent):
            holder, key = open_[-1] if open_ else (None, None)
            if holder and holder.kind == "map" and key is None:
                open_[-1] = (holder, event.value)  # type: ignore[attr-defined]
                continue
            spot = _spot(event)
            if holder:
                holder.parts[len(holder.parts) if holder.kind == "list" else str(key)] = spot
                open_[-1] = (holder, None)
            else:
                root = spot
            if spot.kind != "text":
                open_.append((spot, None))
    return root


def _spot(event: Any) -> _Spot:
    start = event.start_mark
    if isinstance(event, yaml.ScalarEvent):
        return _Spot(start.index, _end(event), words=event.value)
    kind = "map" if isinstance(event, yaml.MappingStartEvent) else "list"
    return _Spot(start.index, kind=kind, flow=bool(event.flow_style), column=start.column)


def _end(event: Any) -> int:
    end: int = event.end_mark.index
    return end
