"""The first look at a batch: whether the model can be held, before anything is asked of it."""

from pathlib import Path

from claywit.batch.scorer import Wanted, model_of, occurring, scorer_of
from claywit.errors import ModelError
from claywit.model.source import MAX_BYTES
from claywit.records.cases import read_blocks
from claywit.records.disk import read_bytes


def read_text(model: Path) -> bytes:
    """Return the text of a model file, for other processes to read.

    Raises:
        ModelError: there is no such file.
    """
    return read_bytes(model, MAX_BYTES, ModelError)


def refuse_too_large(text: bytes, name: str, cases: Path, asked: Wanted) -> None:
    """Compile the model in *text* for the traits that the file *cases* begins with.

    Raises:
        ModelError: it cannot be held in memory; the message names the nodes to blame.
        EvidenceError: there is nothing to weigh, or nothing to ask.
        CasesError: the file cannot be read, or does not fit the model.
    """
    first = next(read_blocks(cases, model_of(text, name), block=1), None)
    read = occurring(first.cases, asked) if first else asked.weighed
    try:
        scorer_of(text, name, asked, read)
    except ModelError as wrong:
        fewer = len(read) < len(asked.weighed) and asked.looks
        hint = "; --without-next makes room only for the traits in the file" if fewer else ""
        raise ModelError(f"{name}: {wrong}{hint}") from None
