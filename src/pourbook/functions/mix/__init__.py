"""Worksheet functions on products and amounts."""
