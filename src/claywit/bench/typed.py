"""What is typed into a form and not sent yet: kept on disk, so that a reload or a crash loses none.

It is text for the fields in which it was typed, and nothing else: no page is made of it, and it is
read as a reading, a reason or a story only once its form is sent.
"""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, ValidationError

from claywit.bench import drafts
from claywit.errors import ClaywitError
from claywit.model.formats import OtherFormat, refuse_format
from claywit.model.values import Value
from claywit.records.disk import read_whole, write_bytes

MOST = 2_000_000  # bytes of all that is typed about one piece, or about none
FormName = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9._/-]{0,160}$")]
FieldName = Annotated[str, Field(min_length=1, max_length=300)]
Said = Annotated[
    tuple[Annotated[str, Field(max_length=60_000)], ...], Field(min_length=1, max_length=200)
]
Fields = dict[FieldName, Said]


class Typed(Value):
    """What was typed, by form and by field; a field may stand in its form several times."""

    format: Literal["claywit-typed/1"] = "claywit-typed/1"
    forms: dict[FormName, Fields] = {}


class Change(Value):
    """What changed in one form: a field by what it says now, None where it says nothing new.

    fields: None where the form was sent, or taken back.
    """

    form: FormName
    fields: dict[FieldName, Said | None] | None


def read(folder: Path, of: str | None) -> Typed:
    """Return what was typed about a piece that lies here, by its draft, or about none.

    Raises:
        ClaywitError: it is not readable.
    """
    path = _path(folder, of)
    if not path.exists():
        return Typed()
    text = read_whole(path, MOST)
    try:
        refuse_format(json.loads(text), Typed)
        return Typed.model_validate_json(text)
    except OtherFormat as wrong:
        raise ClaywitError(f"{path.name}: {wrong}") from None
    except (ValueError, RecursionError):
        raise ClaywitError(f"{path.name}: is damaged; move it away") from None


def keep(folder: Path, of: str | None, change: Change) -> None:
    """Keep what changed in one form.

    Raises:
        ClaywitError: it is more than is kept, or the folder cannot be written.
    """
    held = read(folder, of)
    fields = _changed(held.forms.get(change.form, {}), change.fields)
    rest = {name: said for name, said in held.forms.items() if name != change.form}
    try:
        after = Typed(forms={**rest, change.form: fields} if fields else rest)
    except ValidationError:  # each part was read before
        raise ClaywitError("what is typed here cannot be kept; send the form") from None
    text = after.model_dump_json().encode()
    if len(text) > MOST:
        raise ClaywitError(
            f"{len(text):,} bytes are typed and not sent; {MOST:,} are kept. Send this form, or"
            " take back what you typed in others"
        )
    drafts.own(folder)
    write_bytes(_path(folder, of), text)


def _changed(held: Fields, fields: Mapping[str, Said | None] | None) -> Fields:
    if fields is None:
        return {}
    said: dict[str, Said | None] = {**held, **fields}
    return {name: values for name, values in said.items() if values is not None}


def _path(folder: Path, of: str | None) -> Path:
    return drafts.beside(folder, of or "bench", drafts.TYPED)
