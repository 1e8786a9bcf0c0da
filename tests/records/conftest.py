"""An empty casebook."""

import pytest
from desk import new


@pytest.fixture
def kept(tmp_path):
    with new(tmp_path / "c.db") as opened:
        yield opened
