"""Worksheet functions that place a job on the calendar."""
