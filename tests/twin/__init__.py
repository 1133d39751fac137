"""Twin: truth drawn by the model itself, outlooks made without knowing it."""
