"""Worksheet functions on air, surfaces and tests on site."""
