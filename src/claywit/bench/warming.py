"""What the first key would wait for, done before it; what any key would, out of its way."""

import gc
import sys
from contextlib import suppress

from claywit.bench.desk import Desk
from claywit.bench.draft import Draft
from claywit.bench.pages.opinion import beside
from claywit.bench.weighing import weighable
from claywit.errors import ClaywitError
from claywit.evidence.written import ObjectId

TURN = 0.0005  # seconds after which one thread lets another go on


def warm(desk: Desk) -> None:
    """Work out one opinion, on nothing at all; keep what is there now out of the way of keys.

    Looking through all that the libraries and the model hold, for what is of no use any more,
    takes 30 ms. A save that comes back from the disk would wait 5 ms for the thread that weighs.
    """
    draft = Draft(id="0" * 16, practice=True, model=desk.model.name, piece=ObjectId(id="none"))
    with suppress(ClaywitError):  # a model that says nothing alone: its pages say why
        beside(desk.model.targets[0])(desk, weighable(draft, desk.model))
    gc.collect()
    gc.freeze()
    sys.setswitchinterval(TURN)
