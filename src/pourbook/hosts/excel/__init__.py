"""Pourbook's functions inside Excel: the workbook's macro module, and what it calls."""
