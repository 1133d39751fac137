"""Learning from the farm's own readings and logs: tune the windrow, score past outlooks."""
