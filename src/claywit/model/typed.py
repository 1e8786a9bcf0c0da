"""Plain data typed by a schema, and what the schema finds said line by line."""

from typing import Any, TypeVar

from pydantic import ValidationError

from claywit.errors import ClaywitError
from claywit.model.formats import format_of, format_said
from claywit.model.problems import subject
from claywit.model.sayings import kind_named, saying
from claywit.model.source import Document, Path, read_document
from claywit.model.values import Value

Typed = TypeVar("Typed", bound=Value)
MOST_MESSAGES = 200  # of one file; nobody mends more at once


def read_typed(
    kind: type[Typed], text: bytes, name: str, error: type[ClaywitError]
) -> tuple[Typed, Document]:
    """Return the value of a *kind* that YAML *text* holds, with the document that knows its lines.

    Raises:
        ClaywitError: of the kind *error*: it cannot be read, or is not of that form.
    """
    document = read_document(text, name, error)
    return typed(kind, document, error), document


def typed(
    kind: type[Typed], document: Document, error: type[ClaywitError], *, rest: str = ""
) -> Typed:
    """Return what *document* holds as a value of a *kind*.

    Args:
        kind: the schema.
        document: plain data, and where it stands.
        error: what is raised.
        rest: what the message says of the way to all that is wrong, if there is one.

    Raises:
        ClaywitError: of the kind *error*: it is not of that form.
    """
    try:
        return kind.model_validate(document.data)
    except ValidationError as wrong:
        raise all_of(messages(wrong, document), error, rest=rest) from None


def all_of(found: list[str], error: type[ClaywitError], *, rest: str = "") -> ClaywitError:
    """Return one error of what was *found*: the first, and how many more there are."""
    least = "at least " if len(found) == MOST_MESSAGES else ""
    more = f" (and {least}{len(found) - 1} more{rest})" if len(found) > 1 else ""
    return error(found[0] + more, found)


def messages(wrong: ValidationError, document: Document) -> list[str]:
    """Return one line for each thing the schema found, with its place in *document*."""
    kind = kind_named(wrong.title)
    version = _version_said(wrong, document, kind)
    if version:  # of a file of another version nothing else can be said
        return [version]
    found: dict[Path, str] = {}
    for problem in wrong.errors(include_url=False):
        if len(found) == MOST_MESSAGES:
            break
        missing = problem["type"] == "missing"
        path = _path_in(document.data, problem["loc"], missing=missing)
        said = missing or problem["type"] == "extra_forbidden"  # the message names the key itself
        named = path[:-1] if said and path[-1:] == problem["loc"][-1:] else path
        text = f"{_subject(named, document)}{saying(problem, kind)}"
        found.setdefault(path, f"{document.place(path)}: {text}")
    return list(found.values())


def _version_said(
    wrong: ValidationError, document: Document, kind: type[Value] | None
) -> str | None:
    """Return what is wrong with the `format` of a file, None where nothing is."""
    for problem in wrong.errors(include_url=False):
        if problem["loc"] == ("format",) and problem["type"] in {"literal_error", "missing"}:
            # Two kinds may have one name, so the problem's own word goes before the kind's.
            expected = str(problem.get("ctx", {}).get("expected", "")).strip("'")
            expected = expected or (format_of(kind) if kind else "")
            said = format_said(document.data.get("format"), expected)
            return f"{document.place(('format',))}: {said}"
    return None


def _path_in(data: Any, loc: tuple[str | int, ...], *, missing: bool) -> Path:
    """Turn a schema location into a path of the file, which may write a list as a mapping.

    Steps that stand in the schema only are left out; a *missing* key is kept as the last.
    """
    path: list[str | int] = []
    for i, step in enumerate(loc):
        key = step
        if isinstance(data, dict) and isinstance(step, int) and step < len(data):
            key = list(data)[step]
        held = len(data) if isinstance(data, list) else 0
        if (isinstance(data, dict) and key in data) or (isinstance(key, int) and key < held):
            data = data[key]
            path.append(key)
        elif missing and i == len(loc) - 1:
            path.append(key)
    return tuple(path)


def _subject(path: Path, document: Document) -> str:
    """Return `rim, given workshop=north: ` for a row's path, `sources: ` for a plain one."""
    if len(path) < 2 or path[0] not in ("nodes", "findings"):
        return _steps(path)
    node = path[1] if isinstance(path[1], str) else _at(document.data, path[:2]).get("name", "")
    for end in (3, 4):
        row = path[2:end] in (("rows",), ("noisy_max", "causes"), ("noisy_or", "causes"))
        if row and len(path) > end and isinstance(path[end], int):
            given = _at(document.data, path[: end + 1]).get("given")
            said = subject(str(node), given)
            if not given and path[end]:
                said = f"{node}, row {int(path[end]) + 1}: "
            return said + _steps(path[end + 1 :])
    return subject(str(node), {}) + _steps(path[2:])


def _steps(path: Path) -> str:
    """Return `states, item 2: ` for a path below a subject, nothing for an empty one."""
    text = ""
    for step in path:
        text += f", item {step + 1}" if isinstance(step, int) else f" {step}"
    return f"{text.strip(', ')}: " if path else ""


def _at(data: Any, path: Path) -> Any:
    for step in path:
        data = data[step]
    return data if isinstance(data, dict) else {}
