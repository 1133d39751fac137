"""A toy layout and a toy service, each one record, answer through the command."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner
from weather.files_common import refusal

from hayweather import nights, words
from hayweather.cli.main import app
from hayweather.errors import FarmFileError
from hayweather.plan import make
from hayweather.weather import catalog
from hayweather.weather.catalog import SERVICES, Service, add_service
from hayweather.weather.files import ReadOptions, read_weather_file
from hayweather.weather.files.plain import PLAIN, read_plain
from hayweather.weather.files.read import LAYOUTS, add_layout
from hayweather.weather.files.table import FileTable, Layout
from hayweather.weather.files.text import FileText
from hayweather.weather.record import HourlyWeather

SAMPLE = Path(__file__).parents[2] / "sample_forecasts"
FIRST = "TOY LAYOUT"


def toy_rows(file: FileText, options: ReadOptions) -> FileTable:
    """A plain table below a first line that says what it is."""
    table = read_plain(replace(file, lines=["#", *file.lines[1:]]), options)
    return replace(table, shape=replace(table.shape, layout="toy"))


TOY = Layout("toy", lambda file: file.lines[0] == FIRST, toy_rows, "start")


@pytest.fixture
def catalogs(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Layouts, services and texts as they were, afterwards."""
    layouts, services = list(LAYOUTS), dict(SERVICES)
    texts = {**words.table(), "weather_layout_toy": {"en": "toy rows", "es": "filas de juguete"}}
    monkeypatch.setattr(words, "table", lambda: texts)
    usual = nights.night_of

    def few_members(*given: object, **options: object) -> object:
        """What is read is of matter here, not how sure the answer is."""
        return usual(*given, **{**options, "members": 24})  # type: ignore[arg-type]

    for module in (nights, make):
        monkeypatch.setattr(module, "night_of", few_members)
    yield
    LAYOUTS[:] = layouts
    SERVICES.clear()
    SERVICES.update(services)


def farm(folder: Path, weather: str) -> Path:
    """The sample farm with its weather table replaced."""
    text = (SAMPLE / "sagebeck.toml").read_text(encoding="utf-8")
    head, _, rest = text.partition("[weather]")
    after = rest.partition("\n[")[2]
    path = folder / "farm.toml"
    path.write_text(f"{head}[weather]\n{weather}\n\n[{after}", encoding="utf-8")
    return path


def outlook(path: Path, *more: str) -> str:
    done = CliRunner().invoke(app, ["outlook", str(path), *more])
    assert done.exit_code == 0, done.output
    return done.output


NOW = ("--now", "2025-07-08T17:00")


@pytest.mark.slow
def test_a_toy_layout_answers_as_the_sample_does(catalogs: None, tmp_path: Path) -> None:
    add_layout(TOY)
    rows = (SAMPLE / "sagebeck.csv").read_text(encoding="utf-8")
    (tmp_path / "sagebeck.csv").write_text(rows, encoding="utf-8")
    plain = outlook(farm(tmp_path, 'file = "sagebeck.csv"'), *NOW)
    (tmp_path / "toy.csv").write_text(f"{FIRST}\n{rows}", encoding="utf-8")
    toy = outlook(farm(tmp_path, 'file = "toy.csv"'), *NOW)
    assert toy.replace("toy.csv", "sagebeck.csv").split() == plain.split()
    done = CliRunner().invoke(app, ["inspect", str(tmp_path / "toy.csv")])
    assert "toy rows" in done.output


def test_without_its_record_the_toy_layout_is_not_known(tmp_path: Path) -> None:
    rows = (SAMPLE / "sagebeck.csv").read_text(encoding="utf-8")
    error = refusal(tmp_path, f"{FIRST}\n{rows}", ReadOptions(layout="toy"))
    assert error.key == "weather_layout_unknown"
    assert LAYOUTS[-1] is PLAIN


@pytest.mark.slow
def test_a_toy_service_answers_through_the_farm_file(catalogs: None, tmp_path: Path) -> None:
    told, _ = read_weather_file(SAMPLE / "sagebeck.csv")

    def fetch(*_site: object, **_when: object) -> HourlyWeather:
        source = replace(told.source, name="Toy", issued=np.datetime64("2025-07-08T20:00", "s"))
        return replace(told, source=source)

    add_service(Service("toy", "Toy", fetch, lambda *_a, **_k: ("America/Los_Angeles", 1320.0)))
    text = outlook(farm(tmp_path, 'service = "toy"'), *NOW, "--all")
    assert "Toy" in text
    (tmp_path / "sagebeck.csv").write_bytes((SAMPLE / "sagebeck.csv").read_bytes())
    reference = outlook(farm(tmp_path, 'file = "sagebeck.csv"'), *NOW, "--all")
    assert calls(text) == calls(reference)
    assert calls(text)


def calls(text: str) -> list[str]:
    """The lines of an outlook that say when to bale on dew or with the rig."""
    return [line for line in text.splitlines() if line.startswith(("##", "++"))]


def shown(*arguments: str) -> str:
    done = CliRunner().invoke(app, list(arguments))
    assert done.exit_code == 0, done.output
    return done.output


@pytest.mark.slow
def test_run_sheet_plan_and_seasons_read_the_toys_too(catalogs: None, tmp_path: Path) -> None:
    add_layout(TOY)
    rows = (SAMPLE / "sagebeck.csv").read_text(encoding="utf-8")
    (tmp_path / "toy.csv").write_text(f"{FIRST}\n{rows}", encoding="utf-8")
    told, _ = read_weather_file(SAMPLE / "sagebeck.csv")
    issued = replace(told.source, name="Toy", issued=np.datetime64("2025-07-08T20:00", "s"))

    def fetch(*_site: object, **_when: object) -> HourlyWeather:
        return replace(told, source=issued)

    add_service(Service("toy", "Toy", fetch, lambda *_a, **_k: ("America/Los_Angeles", 1320.0)))
    for weather, name in (('file = "toy.csv"', "toy.csv"), ('service = "toy"', "Toy")):
        path = str(farm(tmp_path, weather))
        assert name in shown("runsheet", path, *NOW, "--field", "bench", "--format", "json")
        plan = ("plan", path, *NOW, "--days", "1", "--time-limit", "1", "--format", "json")
        assert name in shown(*plan)
    july = (SAMPLE / "seasons" / "bench_2023.csv").read_text(encoding="utf-8")
    (tmp_path / "july.csv").write_text(f"{FIRST}\n{july}", encoding="utf-8")
    text = (SAMPLE / "seasons" / "sites.toml").read_text(encoding="utf-8")
    head, _, rest = text.partition("weather = ")
    after = rest.partition("\n")[2].partition("[site.")[2].partition("\n[")[2]
    (tmp_path / "sites.toml").write_text(f'{head}weather = "july.csv"\n\n[{after}', "utf-8")
    seasons = shown("seasons", str(tmp_path / "sites.toml"), "--months", "7", "--format", "csv")
    assert ",2023,7," in seasons


def test_an_unknown_service_is_refused_with_those_that_are(tmp_path: Path) -> None:
    done = CliRunner().invoke(app, ["outlook", str(farm(tmp_path, 'service = "toy"'))])
    assert isinstance(done.exception, FarmFileError)
    assert all(name in done.exception.line() for name in SERVICES)


def test_each_service_says_where_it_is_and_what_it_is_called() -> None:
    for name, service in SERVICES.items():
        assert name == service.name
        assert service.label
        assert callable(catalog.function_of(service.fetch))
        assert callable(catalog.function_of(service.place))
        assert all(url.startswith("https://") for _, url in service.addresses.values())
