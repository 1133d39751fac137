"""The slips are tested here; what imports the extra `dev` is not a test."""

collect_ignore = ["__main__.py", "mutants.py", "run.py"]
