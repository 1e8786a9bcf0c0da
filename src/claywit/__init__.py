"""claywit: from what is seen through the lens to an explained attribution."""

__version__ = "0.1.0"
