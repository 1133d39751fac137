"""From farm and weather to nights: one driver for every question."""

from hayweather.nights.night import FieldNight, Night, night_of

__all__ = ["FieldNight", "Night", "night_of"]
