"""Figures gathered by `make bench` for the table of docs/reference/performance.md."""

import sys


def figure(figures, what, found, goal):
    """Keep a figure and print it."""
    figures.append((what, found, goal))
    sys.stderr.write(f"\n{what}: {found}{f' (goal: {goal})' if goal else ''}\n")
