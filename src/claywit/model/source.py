"""YAML text as plain data, with the line of every key, and errors that name the place.

Only the part of YAML that needs no interpretation is read: mappings, lists and text.
There are no aliases, tags, merge keys or repeated keys, and every scalar stays text
until a schema types it, so `no` stays "no" and nothing is guessed.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import yaml

from claywit.errors import ClaywitError, warn_of_end
from claywit.model.sayings import yaml_saying

MAX_BYTES = 4_000_000
MAX_DEPTH = 24
# Controls, which YAML forbids raw but lets in as escapes, and marks that turn the direction of
# text round: what is shown must be what was read. Looked for first, to name the line.
_UNSEEN = re.compile(
    "[\\x00-\\x08\\x0b\\x0c\\x0e-\\x1f\\x7f-\\x84\\x86-\\x9f\\u202a-\\u202e\\u2066-\\u2069\\ufffe\\uffff]"
)

Path = tuple[str | int, ...]


@dataclass(frozen=True)
class Document:
    """A file's plain data, and the line on which each path of it begins."""

    name: str
    data: Any
    lines: Mapping[Path, int]

    def place(self, path: Path) -> str:
        """Return `file:line` of the deepest part of *path* that stands in the file."""
        for end in range(len(path), -1, -1):
            if path[:end] in self.lines:
                return f"{self.name}:{self.lines[path[:end]]}"
        return self.name


def read_document(text: bytes, name: str, error: type[ClaywitError]) -> Document:
    """Return the data of one YAML document.

    Raises:
        ClaywitError: of the kind *error*: not UTF-8, too large, too deep, not YAML, or
            with an alias, a tag, a repeated key or a second document.
    """
    if len(text) > MAX_BYTES:
        raise error(f"{name}: {len(text):,} bytes, at most {MAX_BYTES:,} are read")
    try:
        decoded = text.decode("utf-8-sig")
    except UnicodeDecodeError as wrong:
        line = text.count(b"\n", 0, wrong.start) + 1
        said = f"byte {wrong.start} is not UTF-8; save the file as UTF-8"
        raise error(f"{name}:{line}: {said}") from None
    if decoded.rpartition("\n")[2].strip():
        line = decoded.count("\n") + 1
        warn_of_end(f"{name}:{line}")
    hidden = _UNSEEN.search(decoded)
    if hidden:
        line = decoded.count("\n", 0, hidden.start()) + 1
        raise error(f"{name}:{line}: {_saying_of(hidden[0])}")
    try:
        return _build(decoded, name, error)
    except yaml.MarkedYAMLError as wrong:
        mark = wrong.problem_mark or wrong.context_mark
        where = f"{name}:{mark.line + 1}" if mark else name
        raise error(f"{where}: {yaml_saying(wrong, decoded)}") from None
    except yaml.YAMLError as wrong:
        raise error(f"{name}: not readable as YAML: {str(wrong).splitlines()[0]}") from None


def unseen(text: str) -> str:
    """Return what is wrong with *text* if a reader could not see all of it, else nothing."""
    found = _UNSEEN.search(text)
    return _saying_of(found[0]) if found else ""


def _saying_of(character: str) -> str:
    hint = "save the file as UTF-8" if character == "\0" else "delete it"
    return f"a character that cannot be seen (U+{ord(character):04X}); {hint}"


@dataclass
class _Open:
    """A mapping or list whose end has not been reached yet."""

    path: Path
    data: Any
    key: str | None = None


@dataclass
class _Builder:
    name: str
    error: type[ClaywitError]
    lines: dict[Path, int] = field(default_factory=dict)
    stack: list[_Open] = field(default_factory=list)
    data: Any = None

    def place_of_next(self) -> Path:
        if not self.stack:
            return ()
        top = self.stack[-1]
        return (*top.path, len(top.data) if isinstance(top.data, list) else str(top.key))

    def put(self, value: object) -> None:
        if not self.stack:
            self.data = value
            return
        top = self.stack[-1]
        if isinstance(top.data, list):
            top.data.append(value)
        else:
            top.data[top.key] = value
            top.key = None

    def wants_key(self) -> bool:
        return bool(self.stack) and isinstance(self.stack[-1].data, dict) and not self.stack[-1].key


def _build(text: str, name: str, error: type[ClaywitError]) -> Document:
    """Build the data from parser events: nothing is composed, so an alias costs nothing."""
    builder = _Builder(name, error)
    documents = 0
    for event in yaml.parse(text, Loader=yaml.CSafeLoader):
        line = event.start_mark.line + 1 if event.start_mark else 1
        if isinstance(event, yaml.DocumentStartEvent):
            documents += 1
            if documents > 1:
                raise error(f"{name}:{line}: a second document begins here; one is read")
        elif isinstance(event, yaml.AliasEvent):
            raise error(f"{name}:{line}: an alias (*{event.anchor}); write the value out")
        elif isinstance(event, yaml.NodeEvent):
            _node(builder, event, line)
        elif isinstance(event, yaml.CollectionEndEvent):
            builder.stack.pop()
    if builder.data is None or builder.data == "":
        raise error(f"{name}: the file is empty")
    return Document(name, builder.data, builder.lines)


def _node(builder: _Builder, event: Any, line: int) -> None:
    where = f"{builder.name}:{line}"
    scalar = isinstance(event, yaml.ScalarEvent)
    said = unseen(event.value) if scalar else ""
    if said:
        raise builder.error(f"{where}: {said}")
    if event.anchor or event.tag not in (None, "!"):
        raise builder.error(
            f"{where}: an anchor or tag ({event.anchor or _tag(event.tag)}); leave it out"
        )
    if builder.wants_key():
        _key(builder, event, where, line)
        return
    path = builder.place_of_next()
    builder.lines.setdefault(path, line)
    if scalar:
        builder.put(event.value)
        return
    if len(builder.stack) >= MAX_DEPTH:
        raise builder.error(f"{where}: nested deeper than {MAX_DEPTH} levels")
    data: object = {} if isinstance(event, yaml.MappingStartEvent) else []
    builder.put(data)
    builder.stack.append(_Open(path, data))


def _tag(tag: str) -> str:
    return tag.replace("tag:yaml.org,2002:", "!!")


def _key(builder: _Builder, event: Any, where: str, line: int) -> None:
    if not isinstance(event, yaml.ScalarEvent) or not event.value:
        raise builder.error(f"{where}: a key must be a plain name")
    if event.value == "<<":
        raise builder.error(f"{where}: a merge key (<<); write the keys out")
    top = builder.stack[-1]
    if event.value in top.data:
        first = builder.lines[(*top.path, event.value)]
        raise builder.error(f"{where}: key {event.value} stands twice (first on line {first})")
    top.key = event.value
    builder.lines[(*top.path, event.value)] = line
