"""How long a test waits for what ends at once: a busy machine is no fault, what never ends is."""

HANGS = 300  # seconds
