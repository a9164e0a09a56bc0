"""What the commands do, one module a topic."""
