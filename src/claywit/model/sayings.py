"""What went wrong while a file was read, in words that need no knowledge of YAML or Python."""

from collections.abc import Iterator, Sequence
from typing import Any, get_args

from claywit.errors import did_you_mean
from claywit.model.values import DASHED, NAME, STATE, VERSION, Value

_YAML = {
    "mapping values are not allowed in this context": "a second colon on this line, or an"
    " indentation that does not fit; put text that holds a colon in quotes",
    "found character that cannot start any token": "a value cannot begin with this character;"
    " put it in quotes",
    "did not find expected key": "the indentation does not fit the lines above",
    "did not find expected '-' indicator": "the indentation does not fit the list above",
    "did not find expected ',' or ']'": "a list in [ ] lacks a comma or its end",
    "did not find expected ',' or '}'": "a mapping in { } lacks a comma or its end",
    "did not find expected node content": "a value is missing",
    "found unexpected end of stream": "a quotation mark is not closed",
    "could not find expected ':'": "a key lacks its colon and the space after it",
    "found unknown escape character": "a \\ in double quotes means something else; write '…'",
    "exceeded maximum nesting depth": "nested too deep",
}
_PATTERNS = {
    NAME: "a name is made of letters, digits and _, and begins with a letter",
    STATE: "a state is made of letters, digits and _ . + -, without spaces",
    DASHED: "use lower-case letters, digits and dashes, as weir-tablets",
    VERSION: "write three numbers, as 1.0.0",
}
_KINDS = {
    "State": "nothing, or a mapping such as {label: North},",
    "Written": "a state, a measure, or a mapping such as {state: flat, sure: 0.9},",
    "WrittenMeasure": "a value such as 43.5 mm, or a mapping such as {below: 5 mm},",
}
_SAYINGS = {
    "string_type": "text is expected",
    "dict_type": "a mapping is expected, as key: value, with a space after the colon",
    "model_type": "{kind} is expected",
    "tuple_type": "a list is expected, as [one, two]",
    "list_type": "a list is expected, as [one, two]",
    "bool_parsing": "found '{shown}', expected true or false",
    "bool_type": "found {shown}, expected true or false",
    "literal_error": "found '{shown}', expected {expected}",
    "string_pattern_mismatch": "found '{shown}'; {words}",
    "too_short": "at least one is needed",
    "too_long": "{max_length} values are expected, no more",
    "string_too_short": "at least one character is needed",
    "string_too_long": "{length:,} characters, at most {max_length:,} are read",
    "greater_than": "found {shown}, must be above {gt:g}",
    "greater_than_equal": "found {shown}, must be at least {ge:g}",
    "less_than": "found {shown}, must be below {lt:g}",
    "less_than_equal": "found {shown}, must be at most {le:g}",
}


def yaml_saying(wrong: Any, text: str) -> str:
    """Return in plain words what the YAML parser stumbled over in *text*."""
    said = str(wrong.problem or wrong.context)
    begun, mark = wrong.context_mark, wrong.problem_mark
    line = text.split("\n")[mark.line] if mark and mark.line < text.count("\n") + 1 else ""
    if "\t" in line[: len(line) - len(line.lstrip())]:
        return "not readable as YAML: the line begins with a tab; indent with spaces"
    plain = _YAML.get(said, said)
    if begun and mark and begun.line < mark.line:
        plain += f" (what begins on line {begun.line + 1})"
    return f"not readable as YAML: {plain}"


def saying(problem: Any, kind: type[Value] | None) -> str:
    """Return in plain words what a schema problem is; *kind* is the type of the whole file."""
    name, found, last = problem["type"], str(problem.get("input")), problem["loc"][-1:]
    if name == "extra_forbidden":
        known = keys_at(kind, problem["loc"][:-1])
        return f"unknown key {last[0]}; {did_you_mean(str(last[0]), known)}"
    if name == "missing":
        item = isinstance(last[0], int)
        return f"value {last[0] + 1} is missing" if item else f"the key {last[0]} is missing"
    if name not in _SAYINGS:
        return str(problem["msg"].removeprefix("Value error, "))
    context = {"shown": found[:60], "length": len(found), **problem.get("ctx", {})}
    pattern = str(context.get("pattern"))
    words = _PATTERNS.get(pattern, f"it must match {pattern}")
    kind_text = _KINDS.get(str(context.get("class_name")), "a mapping (key: value)")
    return _SAYINGS[name].format(words=words, kind=kind_text, **context)


def keys_at(kind: type[Value] | None, loc: Sequence[int | str]) -> list[str]:
    """Return the keys that a file of *kind* may have at *loc*; all keys there are, if unsure."""
    if kind is None:
        return []
    for step in loc:
        fields = {field.alias or name: field for name, field in kind.model_fields.items()}
        if step in fields:  # else a position in a list or a name in a mapping: the kind stays
            below = next(_kinds(fields[str(step)].annotation), None)
            kind = below or kind
    return sorted(field.alias or name for name, field in kind.model_fields.items())


def _kinds(annotation: Any) -> Iterator[type[Value]]:
    if isinstance(annotation, type) and issubclass(annotation, Value):
        yield annotation
    for inner in get_args(annotation):
        yield from _kinds(inner)


def kind_named(title: str) -> type[Value] | None:
    """Return the kind of file that a schema error is about, by its title."""
    waiting: list[type[Value]] = [Value]
    while waiting:
        kind = waiting.pop()
        if kind.__name__ == title:
            return kind
        waiting += kind.__subclasses__()
    return None
