"""Splitting a mix into batches: how large one may be, and the fewest that hold the pieces."""
