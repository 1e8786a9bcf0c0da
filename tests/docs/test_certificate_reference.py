"""The reference of certificates names every key and every code."""

from pathlib import Path
from typing import get_args

import pytest

from claywit.certificate import schema, status
from claywit.certificate.outcome import Unsound, Wrong

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "reference" / "certificate.md").read_text(encoding="utf-8")
KINDS = (schema.Certificate, schema.Proof, schema.Trace, schema.UsedModel, schema.UsedEvidence,
         schema.Data, schema.Reliability, schema.Method, schema.Earlier, schema.Log,
         status.Entry, status.Status)  # fmt: skip


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_the_page_names_every_key(kind):
    keys = [field.alias or name for name, field in kind.model_fields.items()]
    assert [key for key in keys if f"`{key}`" not in PAGE] == []


@pytest.mark.parametrize("code", [*get_args(Unsound), *get_args(Wrong)])
def test_the_page_names_every_code(code):
    """That an attack reaches each is shown by `tests/faults/test_signatures_codes.py`."""
    assert f"\n| `{code}` |" in PAGE
