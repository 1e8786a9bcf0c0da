"""The reference of evaluations names every key."""

from pathlib import Path

import pytest

from claywit.report import evaluated
from claywit.report.values import Named

PAGE = Path(__file__).parents[2] / "docs" / "reference" / "evaluation.md"
KINDS = [
    kind
    for kind in vars(evaluated).values()
    if isinstance(kind, type) and issubclass(kind, Named) and kind.__module__ == evaluated.__name__
]


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_the_page_names_every_key(kind):
    text = PAGE.read_text(encoding="utf-8")
    keys = [field.alias or name for name, field in kind.model_fields.items() if name != "format"]
    assert [key for key in keys if f"`{key}`" not in text] == []
