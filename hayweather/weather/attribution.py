"""The lines that sources of weather ask to be named with, one place for files and services."""

from __future__ import annotations

OPEN_METEO = (
    "Weather data by Open-Meteo.com (https://open-meteo.com/), license CC BY 4.0 "
    "(https://creativecommons.org/licenses/by/4.0/)"
)
"""The wording, the name of the license and the link are what the license asks for."""

PVGIS = "PVGIS (c) European Union"
