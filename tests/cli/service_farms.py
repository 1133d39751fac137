"""Farms whose weather comes from a service, and outlooks of them as JSON."""

from __future__ import annotations

import json
from pathlib import Path

from cli.commands import done
from weather import server_answers as answers

SERVICES = {
    "open-meteo": 'service = "open-meteo"\nterms = "non-commercial"',
    "us-nws": 'service = "us-nws"',
}
PLACE = f"latitude = {answers.LATITUDE}\nlongitude = {answers.LONGITUDE}"
WHOLE_PLACE = f'{PLACE}\nelevation = "{answers.ELEVATION_M} m"\ntimezone = "{answers.ZONE}"'
ASKED = ("--now", "2017-07-09T18:00Z")


def farm_file(
    folder: Path, service: str = "open-meteo", place: str = PLACE, language: str = "en"
) -> Path:
    """A farm of one field; without more, elevation and zone are the service's."""
    path = folder / "farm.toml"
    path.write_text(
        f'[farm]\nname = "Hill"\nlanguage = "{language}"\n[site.home]\n{place}\n[weather]\n'
        f'{SERVICES[service]}\n[field.north]\nsite = "home"\ncured = true\n'
        '[baler]\nkind = "large-square"\n',
        encoding="utf-8",
    )
    return path


def outlook_form(capsys, farm: Path, *arguments: object) -> dict:
    """The outlook as JSON."""
    return json.loads(done(capsys, "outlook", farm, *arguments, "--format", "json"))


def hours_of(form: dict) -> list[dict]:
    """The hours of the only field."""
    (field,) = form["fields"]
    return field["hours"]


def farm_with(folder: Path, more: str = "") -> Path:
    """A farm of the US service with more tables."""
    path = folder / "farm.toml"
    path.write_text(
        f'[farm]\nname = "Hill"\n[site.home]\n{PLACE}\n[weather]\nservice = "us-nws"\n'
        f'[field.north]\nsite = "home"\ncured = true\n[baler]\nkind = "large-square"\n{more}'
    )
    return path
