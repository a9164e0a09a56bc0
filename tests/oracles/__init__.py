"""Formulas that only tests need: other ways to a figure, and published rules nothing here uses."""
