"""The bench: a page on this machine for all that is done with one piece."""
