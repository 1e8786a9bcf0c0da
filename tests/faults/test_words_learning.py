"""What is learned from pieces, readings and experts, each number of it: in the text as in the data."""

import re
from collections import Counter

import numpy as np
import pytest
from faults import placed_elicit, placed_evaluate, placed_examiners, placed_fit, placed_moulds
from faults.answering import MAKERS, NothingReadError
from placed import altered, numbers_of, said, unplaced
from spoken import never_said
from trials import times

from claywit.errors import ClaywitError

PLACES = {
    "answers of `moulds`": placed_moulds.places,
    "answers of `fit`": placed_fit.places,
    "answers of `examiners`": placed_examiners.places,
    "answers of `elicit`": placed_elicit.places,
    "answers of `evaluate`, terminal and page": placed_evaluate.places,
}
RANGE = re.compile(r"(?<![\d.])([−-]?\d+\.\d+) to ([−-]?\d+\.\d+)")


def falling(text):
    """Return the ranges of *text* whose ends changed places."""
    ends = [
        (m[0], *(float(one.replace("−", "-")) for one in m.groups())) for m in RANGE.finditer(text)
    ]
    return [said for said, low, high in ends if low > high]


@pytest.mark.parametrize("kind", MAKERS)
def test_every_number_of_what_is_learned_is_in_its_data(kind, tried):
    seen, rng = Counter(), np.random.default_rng(18)
    for seed in range(times(4, 100)):
        try:
            made = MAKERS[kind](np.random.default_rng([18, seed]), seed)
        except (ClaywitError, NothingReadError):
            seen["refused"] += 1
            continue
        places = [*PLACES[kind](made.data), *said(*made.phrases)]
        for text in made.texts:
            assert unplaced(text, places) == [], (kind, seed, text)
            assert never_said(text) == [], (kind, seed, text)
            assert falling(text) == [], (kind, seed)
            seen["numbers"] += len(numbers_of(text))
            wrong = altered(rng, text)
            seen["altered"] += wrong is not None
            seen["noticed"] += wrong is not None and bool(unplaced(wrong, places))
        seen["told"] += 1
    assert seen["told"] > seen["refused"]
    assert seen["noticed"] > 0.98 * seen["altered"]
    tried(
        f"{kind}, of random data", seen["told"] + seen["refused"],
        f"{seen['numbers']:,} printed numbers, each in the place of its field; {seen['refused']:,} refused;"
        f" no range with its ends changed; of {seen['altered']:,} digits altered"
        f" {seen['noticed']:,} noticed",
    )  # fmt: skip
