"""Figures measured by `make bench`, gathered for the table of docs/reference/performance.md."""

import sys
import time


def figure(figures, what, found, goal):
    """Keep a figure and print it."""
    figures.append((what, found, goal))
    sys.stderr.write(f"\n{what}: {found}{f' (goal: {goal})' if goal else ''}\n")


def least(action, repeats):
    """Return the least processor seconds of one call, after one that is not counted."""
    action()
    taken = []
    for _ in range(repeats):
        start = time.process_time()
        action()
        taken.append(time.process_time() - start)
    return min(taken)
