"""Worksheet functions for the estimator's own cells, for words, looks and entries."""
