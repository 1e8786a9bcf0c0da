"""The reference of sheets and readings names every key of their formats."""

import re
from pathlib import Path

import pytest

from claywit.learning import sheet
from claywit.model.values import Value
from claywit.report import elicited, examined

REFERENCE = Path(__file__).parents[2] / "docs" / "reference"


def keys_of(module):
    kinds = [kind for kind in vars(module).values() if isinstance(kind, type)]
    own = [kind for kind in kinds if issubclass(kind, Value) and kind.__module__ == module.__name__]
    return sorted({key for kind in own for key in kind.model_fields})


@pytest.mark.parametrize(
    ("page", "key"),
    [
        *[("question-sheet.md", key) for key in sorted({*keys_of(sheet), *keys_of(elicited)})],
        *[("readings.md", key) for key in keys_of(examined)],
    ],
)
def test_the_reference_names_the_key(page, key):
    text = (REFERENCE / page).read_text(encoding="utf-8")
    assert re.search(rf"`[^`\n]*\b{key}\b[^`\n]*`", text)
