"""The version of the package, as `pyproject.toml` has it."""

__version__ = "0.1.0"
