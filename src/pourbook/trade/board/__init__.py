"""Many jobs beside each other: crews in two places at once, and stock reserved job by job."""
