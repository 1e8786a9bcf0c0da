"""The first look at a batch: whether the model can be held, before anything is asked of it."""

from pathlib import Path

from claywit.batch.scorer import Wanted, model_of, occurring, scorer_of, sheet_for_looks
from claywit.errors import ModelError
from claywit.model.source import MAX_BYTES
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
    try:
        if asked.looks and asked.weighed:  # the file need not be opened to know what this takes
            sheet_for_looks(text, name, asked)
    except ModelError as wrong:
        raise ModelError(
            f"{name}: {wrong}; if few of these are in the file,"
            " --without-next makes room only for the traits in the file"
        ) from None
    from claywit.records.cases import read_blocks  # after what can be refused without it

    first = next(read_blocks(cases, model_of(text, name), block=1), None)
    read = occurring(first.cases, asked) if first else asked.weighed
    try:
        scorer_of(text, name, asked, read)
    except ModelError as wrong:
        raise ModelError(f"{name}: {wrong}") from None
