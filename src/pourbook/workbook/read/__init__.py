"""From a file back to cells."""
