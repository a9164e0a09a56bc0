"""Pourbook: job workbooks for people who resurface tops and floors with two-part coatings."""

__version__ = "0.1.0"
