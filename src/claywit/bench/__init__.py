"""The bench: a page on this machine on which a piece is examined."""
