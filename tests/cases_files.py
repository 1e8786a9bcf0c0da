"""Files of cases for tests, written as people write them."""

import json

from claywit.records.cases import read_cases
from claywit.records.rejects import Rejects


def read(known, path, text, *, block=10_000):
    """Write *text* to *path* and return its pieces in blocks, its rejects and its account."""
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_back(known, path, block=block)


def read_back(known, path, *, block=10_000):
    noted = path.with_name("rejects.csv")
    with Rejects(noted) as rejects:
        blocks = list(read_cases(path, known, rejects, block=block))
    lines = noted.read_text(encoding="utf-8").splitlines()[1:]
    return blocks, lines, rejects.account


def jsonl(*pieces):
    return "".join(f"{json.dumps(piece)}\n" for piece in pieces)
