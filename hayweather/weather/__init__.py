"""Reading weather: files, services, and the record they all become."""
