"""What the farm file lacks for a plan stands on every output that shows hours or work."""

from dataclasses import replace

import pytest
from support.outlooks import FOLDER

from hayweather.farm import read_farm
from hayweather.nights import Night, night_of
from hayweather.plan.sheet import make_runsheet
from hayweather.show.evening import Evening, evening_files
from hayweather.show.outlook_data import outlook_csv, outlook_json
from hayweather.show.outlook_text import outlook_text
from hayweather.show.page import outlook_page
from hayweather.show.runsheet_text import runsheet_text
from hayweather.show.screen import screen_text
from hayweather.weather.asked import weather_for


def night_without(what: str) -> Night:
    """The dewy sample's two cured fields, which want one baler, without something."""
    farm = read_farm(FOLDER / "sagebeck.toml")
    fields = {name: farm.fields[name] for name in ("bench", "creek")}
    if what == "area":
        fields["bench"] = replace(fields["bench"], area_m2=None)
    money = replace(farm.money, price_per_kg=None) if what == "price" else farm.money
    farm = replace(farm, fields=fields, money=money)
    return night_of(farm, weather_for(farm, farm.sites), farm.weather.now, members=20)


@pytest.mark.parametrize(
    ("what", "said"),
    [
        ("price", "the order of the fields is a rule, not a choice by money"),
        ("area", "the hours of go are shown, clashes between fields are not"),
        ("nothing", ""),
    ],
)
def test_what_a_plan_lacks_is_said_everywhere(what, said):
    night = night_without(what)
    texts = {
        "screen": screen_text(night, "us"),
        "long": outlook_text(night, "us"),
        "page": outlook_page(night, "us"),
        "json": outlook_json(night, "us"),
        "csv": outlook_csv(night, "us"),
    }
    if what != "area":  # no sheet without the hay
        sheet = make_runsheet(night)
        texts["sheet"] = runsheet_text(sheet, "us")
        texts |= {
            name: text
            for name, text in evening_files(Evening(night.farm, night.now, "us", sheet)).items()
            if name in ("index.html", "field-bench.html", "machine-baler.html", "night.json")
        }
    for name, text in texts.items():
        flat = " ".join(text.split())
        assert said in flat, name
        if not said:
            assert "not a choice by money" not in flat
            assert "clashes between fields" not in flat
