"""Many pieces: one code path for one machine and for a cluster."""
