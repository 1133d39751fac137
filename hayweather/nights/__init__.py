"""From farm and weather to nights: one driver for every question."""
