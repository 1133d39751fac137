"""Nothing here is a test, and its imports need the extra `dev`, which the tests do without."""

collect_ignore_glob = ["*.py"]
