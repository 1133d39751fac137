"""Two balers with bands of their own in one field: what is said holds for each of them."""

import re
from functools import cache

import pytest
from support.outlooks import FOLDER

from hayweather.baling.calls import AS_IT_LIES
from hayweather.baling.windows import united
from hayweather.farm import read_farm
from hayweather.nights import Night, night_of
from hayweather.plan.sheet import make_runsheet
from hayweather.show.evening import Evening, message_lines
from hayweather.show.message import plain, runsheet_message
from hayweather.show.outlook_plan import stretches_of
from hayweather.show.outlook_text import outlook_text
from hayweather.show.outlook_words import farm_voice, maybe_windows, windows_by_baler
from hayweather.show.screen import screen_text
from hayweather.weather.asked import weather_for

BALER = """[baler.{name}]
kind = "large-square"
bale_size = "{size}"
bale_weight = {weight}
capacity = 20
"""


@cache
def night_of_two(tmp: str) -> Night:
    """The dewy sample's bench with a 4x4 baler, too strict for its dew, and a 3x4 one."""
    text = (FOLDER / "sagebeck.toml").read_text()
    head, _, rest = text.partition("[baler]")
    own = BALER.format(name="tall", size="4x4", weight=1500)
    own += BALER.format(name="flat", size="3x4", weight=1250)
    text = head + own + rest[rest.index("# Round figures") :]
    text = re.sub(r"\[rig\].*?(?=\[money\])", "", text, flags=re.DOTALL)
    for field in ("creek", "saddle"):
        text = re.sub(rf"\[field\.{field}\].*?(?=^\[)", "", text, flags=re.DOTALL | re.MULTILINE)
    path = f"{tmp}/farm.toml"
    with open(path, "w") as file:
        file.write(text.replace('"sagebeck.csv"', f'"{FOLDER / "sagebeck.csv"}"'))
    farm = read_farm(path)
    return night_of(farm, weather_for(farm, farm.sites), farm.weather.now)


@pytest.fixture(scope="module")
def night(tmp_path_factory):
    return night_of_two(str(tmp_path_factory.mktemp("two")))


def flat(text: str) -> str:
    return " ".join(text.split())


def test_no_output_denies_the_dew_that_one_of_the_balers_works_on(night):
    field = night["bench"]
    assert not field.headline.as_it_lies  # of the one shown
    work = [item for item in stretches_of(field, night) if item.window.call in AS_IT_LIES]
    assert {item.baler for item in work} == {"flat"}
    made = Evening(night.farm, night.now, "us", make_runsheet(night))
    for text in (
        screen_text(night, "us"), outlook_text(night, "us"), "\n".join(message_lines(made)),
    ):  # fmt: skip
        assert "No hour on dew" not in flat(text)
        assert "Next night that may" not in flat(text)
        assert "The hay itself allows flat: dew" in flat(text)
    assert "On dew for flat alone" in flat(outlook_text(night, "us"))


def test_what_one_baler_works_on_is_not_called_uncertain_beside_it(night):
    field = night["bench"]
    assert set(windows_by_baler(field)) == {"tall", "flat"}
    for window in maybe_windows(field):
        for go in windows_by_baler(field)["flat"]:
            assert window.end <= go.start or window.start >= go.end
    assert any(
        item.start < go.end and item.end > go.start
        for item in field.headline.maybe
        for go in windows_by_baler(field)["flat"]
    )
    lines = runsheet_message(make_runsheet(night), "us")
    text = " ".join(re.sub(r"^\(\d+/\d+\) ", "", line) for line in lines)
    voice = farm_voice(night, "us")
    (told,) = re.findall(r"bench: probe first, maybe ([^.]*)\.", text)
    spans = [(item.start, item.end) for item in maybe_windows(field)]
    assert told == ", ".join(voice.span(*span) for span in united(spans))


def test_balers_of_one_band_are_not_told_apart():
    farm = read_farm(FOLDER / "sagebeck.toml")
    made = night_of(farm, weather_for(farm, farm.sites), farm.weather.now, field="bench", members=8)
    assert list(windows_by_baler(made["bench"])) == ["baler"]
    assert "allows baler" not in flat(screen_text(made, "us"))


def test_a_name_with_a_low_line_is_kept_in_a_message():
    assert plain("huerta_de_Maria") == "huerta_de_Maria"
