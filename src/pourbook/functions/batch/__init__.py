"""Worksheet functions that plan batches and write mix cards."""
