"""Cure over time: histories of temperature, maturity, kinetics and the heat of a bucket."""
