"""Stored answers: compared number by number, rewritten on purpose only.

`CLAYWIT_REWRITE=1 make test` writes what is found; look at the change before you keep it.
"""

import json
import os
import re
from pathlib import Path

import pytest

REWRITE = bool(os.environ.get("CLAYWIT_REWRITE"))


def assert_same(found, path: Path):
    """Compare JSON data with the file at *path*: numbers within 1e-9, all else exactly."""
    if REWRITE:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps(found, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    compare(found, json.loads(path.read_text(encoding="utf-8")), path.stem)


def compare(found, stored, where):
    if isinstance(stored, dict):
        assert list(found) == list(stored), where
        for key, value in stored.items():
            compare(found[key], value, f"{where}.{key}")
    elif isinstance(stored, list):
        assert len(found) == len(stored), where
        for i, value in enumerate(stored):
            compare(found[i], value, f"{where}[{i}]")
    elif isinstance(stored, float):
        assert found == pytest.approx(stored, abs=1e-9), where
    elif isinstance(stored, str) and _is_decimal(stored):
        assert float(found) == pytest.approx(float(stored), abs=1e-9), where
    else:
        assert found == stored, where


def _is_decimal(text):
    return re.fullmatch(r"\d\.\d+(e-\d+)?", text) is not None
