"""Real summers: tests, and tables for the README."""
