"""What the seasons' engine takes and gives, as frozen records; reports read these alone."""
