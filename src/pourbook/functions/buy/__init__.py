"""Worksheet functions that buy packs."""
