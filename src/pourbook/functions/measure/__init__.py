"""Worksheet functions on measured pieces."""
