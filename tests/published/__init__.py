"""Checks against values from outside: published tables, calculations, reference packages."""
