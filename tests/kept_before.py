"""Files as earlier versions of claywit left them."""

import sqlite3
from pathlib import Path

OLD = Path(__file__).parent / "old"


def casebook_of_layout_1(path):
    """Make the casebook of layout 1 that is kept as text, and return its path."""
    connection = sqlite3.connect(path)
    connection.executescript((OLD / "casebook-layout-1.sql").read_text(encoding="utf-8"))
    connection.execute("PRAGMA journal_mode = WAL")
    connection.close()
    return path
