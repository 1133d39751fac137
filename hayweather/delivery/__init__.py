"""From an evening's texts to people: the folder that is served, what is sent, the schedule."""
