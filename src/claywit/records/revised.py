"""A model file with some values changed: comments kept, and sound before it is written."""

from collections.abc import Mapping
from pathlib import Path

from claywit.errors import ModelError
from claywit.model import source
from claywit.model.rewriting import rewrite
from claywit.model.schema import Model
from claywit.model.soundness import read_with_lines
from claywit.records.disk import read_bytes, write_new


def revise(old: Path, new: Path, changes: Mapping[source.Path, object]) -> Model:
    """Write the model at *old* with *changes* to *new*, and return it.

    Raises:
        ModelError: the old file cannot be read, or the new one would not be sound; then
            nothing is written.
        ClaywitError: there is a file at *new*, be it the model, a sheet or anything else.
    """
    text = read_bytes(old, source.MAX_BYTES, ModelError).decode("utf-8-sig", errors="replace")
    changed = rewrite(text, changes, str(old)).encode()
    model, _ = read_with_lines(changed, str(new))
    write_new(new, changed)
    return model
