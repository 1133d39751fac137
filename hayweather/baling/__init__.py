"""What to do with the hay: bands, calls, water, windows, cautions, the outlook."""
