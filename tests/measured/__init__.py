"""Measured series beside the windrow: skin, dew and soil of two flux sites."""
