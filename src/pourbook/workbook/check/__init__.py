"""From a read file to findings."""
