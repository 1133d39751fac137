"""Weather and windrows that several groups of tests share."""
