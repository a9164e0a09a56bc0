"""From a laid-out book to a file."""
