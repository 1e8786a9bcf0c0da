"""A model file with some values changed: comments kept, and sound before it is written."""

from collections.abc import Mapping
from pathlib import Path

from claywit.errors import ModelError
from claywit.model import source
from claywit.model.rewriting import rewrite
from claywit.model.schema import Model
from claywit.model.soundness import read_with_lines
from claywit.records.disk import read_bytes, write_bytes


def revise(old: Path, new: Path, changes: Mapping[source.Path, object]) -> Model:
    """Write the model at *old* with *changes* to *new*, and return it.

    Raises:
        ModelError: the old file cannot be read, or the new one would not be sound; then
            nothing is written. The new file is the old one.
    """
    if new.exists() and old.exists() and new.samefile(old):
        raise ModelError(f"{new}: is the model itself; give the new one another name")
    text = read_bytes(old, source.MAX_BYTES, ModelError).decode("utf-8-sig", errors="replace")
    changed = rewrite(text, changes, str(old)).encode()
    model, _ = read_with_lines(changed, str(new))
    write_bytes(new, changed)
    return model
