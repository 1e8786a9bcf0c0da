"""Where a reader finds the file that it is to read."""

import tempfile
from pathlib import Path

_FOLDER = tempfile.TemporaryDirectory(prefix="readers")
FOLDER = Path(_FOLDER.name)


def put(name: str, content: bytes) -> Path:
    """Return the path of a file with this content."""
    path = FOLDER / name
    path.write_bytes(content)
    return path
