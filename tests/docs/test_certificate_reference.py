"""The reference of certificates names every key and every code."""

import re
from pathlib import Path

import pytest

from claywit.certificate import schema, status

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "reference" / "certificate.md").read_text(encoding="utf-8")
SOURCE = "".join(
    (ROOT / "src" / "claywit" / "certificate" / f"{name}.py").read_text(encoding="utf-8")
    for name in ("canonical", "verify", "check", "replay")
)
KINDS = (schema.Certificate, schema.Proof, schema.Trace, schema.UsedModel, schema.UsedEvidence,
         schema.Data, schema.Reliability, schema.Method, schema.Earlier, schema.Log,
         status.Entry, status.Status)  # fmt: skip


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_the_page_names_every_key(kind):
    keys = [field.alias or name for name, field in kind.model_fields.items()]
    assert [key for key in keys if f"`{key}`" not in PAGE] == []


def codes():
    found = set(re.findall(r'Refused\(\s*"([a-z_]+)"', SOURCE))
    found |= set(re.findall(r'failed\(\s*"[a-z ]+", "([a-z_]+)"', SOURCE))
    found |= set(re.findall(r'yield [^\n]*"([a-z_]+_differs?)"', SOURCE))
    found |= set(re.findall(r'"([a-z]+_differs?)"', SOURCE))
    return sorted(
        found | {"numbers_do_not_follow", "incomplete", "revoked", "superseded", "key_revoked"}
    )


def test_the_codes_were_found():
    assert {"tampered", "not_canonical", "wrong_key", "words_differ", "schema"} <= {
        *codes(),
        "schema",
    }
    assert len(codes()) > 20


@pytest.mark.parametrize("code", codes())
def test_the_page_names_every_code(code):
    assert f"`{code}`" in PAGE
