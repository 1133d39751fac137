"""Commands: one file each; load, call, show."""
