"""Worksheet functions on what was mixed and used."""
