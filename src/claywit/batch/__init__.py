"""Whole collections scored: one code path for one machine and for a cluster."""
