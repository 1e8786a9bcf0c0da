"""How often a fault is tried: in the routine suite, and under `make faults`."""

import os

LONG = os.environ.get("CLAYWIT_FAULTS") == "long"


def times(short, long):
    """Return how often to try: `short` in the routine suite, `long` under `make faults`."""
    return long if LONG else short
