"""Settling a job and closing it: its tables and journal, and what was booked when."""
