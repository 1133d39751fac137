"""One screen: its size, its signs, its order, and what no lack of room takes away."""

import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from support.outlooks import FOLDER, SAMPLES, in_language, outlook_of

from hayweather.baling.advice import Advice
from hayweather.farm import read_farm
from hayweather.nights import Night, night_of
from hayweather.plan.sheet import make_runsheet
from hayweather.show.evening import field_tonight
from hayweather.show.message import runsheet_message
from hayweather.show.outlook_plan import stretches_of
from hayweather.show.outlook_text import outlook_text
from hayweather.show.outlook_words import farm_voice
from hayweather.show.runsheet_text import runsheet_text
from hayweather.show.screen import (
    Part,
    allowed_sentence,
    fitted,
    most_lines,
    next_step,
    screen_text,
)
from hayweather.weather.asked import weather_for
from hayweather.windrow.readings import Reading
from hayweather.words import Remark

QUARTER = np.timedelta64(900, "s")
DANGERS = ("burns", "steam", "exhaust", "check the hay", "manuals", "local codes",
           "trained people", "driving")  # fmt: skip
# Weather of one hour of July 2025 in Oregon, for nights of many fields.
NOW = np.datetime64("2025-07-09T00:00", "s")


@cache
def of_many(count: int, language: str = "en") -> Night:
    """A farm of so many fields, each a little larger than the one before."""
    farm = read_farm(FOLDER / "sagebeck.toml")
    given = list(farm.fields.values())
    fields = {}
    for number in range(count):
        field = given[number % len(given)]
        name = f"{field.name} {number + 1}"
        fields[name] = replace(field, name=name, area_m2=field.area_m2 * (1 + 0.1 * number))
    farm = replace(farm, fields=fields, language=language, notes=())
    return night_of(farm, weather_for(farm, farm.sites), NOW, members=8)


def late() -> Night:
    """The sample night with a date that cannot be kept."""
    made = outlook_of("sagebeck")
    due = made.now + np.timedelta64(5, "h")
    fields = dict(made.farm.fields)
    fields["bench"] = replace(fields["bench"], finish_before=due)
    return replace(
        made,
        farm=replace(made.farm, fields=fields),
        fields=tuple(
            replace(item, setting=replace(item.setting, field=fields[item.name])) for item in made
        ),
    )


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.slow
@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("width", [60, 80])
@pytest.mark.parametrize("name", SAMPLES)
def test_it_is_one_screen(name, width, language):
    made = in_language(name, language)
    lines = screen_text(made, made.farm.units, width).splitlines()
    assert max(map(len, lines)) <= width
    if width == 80:
        assert len(lines) <= most_lines(len(made))


@pytest.mark.slow
@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("count", [1, 6, 12])
def test_of_one_six_and_twelve_fields(count, language):
    made = of_many(count, language)
    lines = screen_text(made, "us").splitlines()
    assert max(map(len, lines)) <= 80
    assert len(lines) <= {1: 24, 6: 40, 12: 64}[count]
    for field in made:
        assert any(line.startswith(field.name) for line in lines)


def test_what_is_dropped_goes_by_rank_and_never_what_must_stay():
    parts = [Part(("a",)), Part(("b",), 3), Part(("c", "c"), 2), Part(("d",), 3), Part(("e",))]
    assert [part.lines[0] for part in fitted(parts, 9)] == ["a", "b", "c", "d", "e"]
    assert [part.lines[0] for part in fitted(parts, 5)] == ["a", "b", "c", "e"]
    assert [part.lines[0] for part in fitted(parts, 3)] == ["a", "b", "e"]
    assert [part.lines[0] for part in fitted(parts, 0)] == ["a", "e"]


@pytest.mark.slow
def test_invented_missed_overridden_and_dangers_stay_whatever_the_room(monkeypatch):
    monkeypatch.setattr("hayweather.show.screen.most_lines", lambda fields: 0)
    made = late()
    rain = Remark("caution_rain_unknown")
    made = replace(made, cautions=(*made.cautions, rain))
    text = screen_text(made, "us")
    lines = text.splitlines()
    assert lines[0].startswith("INVENTED SAMPLE")
    assert lines[1].startswith("BENCH MISSES ITS DATE")
    assert "rain unknown, taken as none" in flat(text).lower()
    assert all(word in flat(text) for word in DANGERS)
    assert "Probe at" not in text  # what may go has gone
    for field in made:
        assert field.name in text
        for item in stretches_of(field, made):
            assert any(f"{10 * item.window.half_good:.0f} in 10" in line for line in lines)


def sentences(text: str) -> list[str]:
    """Sentences of prose; rows, signs, tables and names of fields apart."""
    said = re.sub(r"(?m)^(..? \s*(\d+ [ap]m|\d\d:\d\d|noon) .*|--.*)$", "", text)
    parts = re.split(r"(?<=[.!?]) (?=[A-ZÁÉÍÓÚ(])", flat(said))
    return [part.lstrip("- ") for part in parts if len(part.split()) > 3]


@pytest.mark.slow
@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("name", SAMPLES)
def test_no_sentence_twice(name, language):
    made = in_language(name, language)
    for text in (screen_text(made, made.farm.units), outlook_text(made, made.farm.units)):
        said = sentences(text)
        assert len(said) > 8
        assert said_twice(said) == said_twice([each for each in said if re.search(r"\d %", each)])
        names = "|".join(field.name for field in made)
        for own in re.split(rf"(?m)^(?=(?:{names}), )", text):
            assert not said_twice(sentences(own))


def said_twice(said: list[str]) -> list[str]:
    """Sentences that stand there again; a moisture may be that of two fields by chance."""
    return sorted({each for each in said if said.count(each) > 1})


def test_a_sentence_said_twice_would_be_seen():
    said = sentences("Sleep: no dew to get up for. It is late now. Sleep: no dew to get up for.")
    assert len(said) == 3
    assert said_twice(said) == ["Sleep: no dew to get up for."]


def strip_of(text: str, name: str) -> str:
    """The signs behind a field's name."""
    line = next(line for line in text.splitlines() if line.startswith(f"{name}, "))
    return re.split(r"acres +", line)[1]


@pytest.mark.slow
@pytest.mark.parametrize("name", ["sagebeck", "sagebeck_hot_wind", "sagebeck_frost"])
def test_signs_are_of_the_night(name):
    """Each large letter lies in a stretch of work, and each has one; p, ? and X as advised."""
    made = outlook_of(name)
    text = screen_text(made, "us")
    for field in made:
        signs, work = strip_of(text, field.name), stretches_of(field, made)
        for number, sign in enumerate(signs):
            quarters = [2 * number, 2 * number + 1]
            times = made.now + np.array(quarters) * QUARTER
            worked = [any(w.window.start <= t < w.window.end for w in work) for t in times]
            advice = field.shown.advice[quarters]
            if sign in "DRLY":
                assert any(worked)
            elif sign == "p":
                assert (advice == Advice.PROBE_FIRST).any()
            elif sign == "X":
                assert field.shown.stopped[quarters, 0].any()
            elif sign in "drl":
                assert (advice == Advice.GO).any()
            else:
                assert not all(worked)
                assert (advice <= Advice.WAIT).any()
        for item in work:
            first = int((item.window.start - made.now) / (2 * QUARTER))
            past = int(np.ceil((item.window.end - made.now) / (2 * QUARTER)))
            assert re.search("[DRLY]", signs[first:past])


def test_start_stop_water_acres_and_chance_stand_in_one_line():
    made = outlook_of("sagebeck")
    lines = screen_text(made, "us").splitlines()
    heading = next(line for line in lines if line.split()[:2] == ["start", "stop"])
    assert " ".join(heading.split()) == "start stop bale with acres all good half good"
    rows = [line for line in lines if re.match(r"  \d+(:\d\d)? [ap]m ", line)]
    work = [item for field in made for item in stretches_of(field, made)]
    assert len(rows) == len(work)
    for row, item in zip(rows, work, strict=True):
        sure = f"{10 * item.window.good_throughout:.0f} in 10"
        assert sure in row
        assert ("gal/ton" in row) == (item.rig is not None)
        acres = item.area_m2 / 4046.8564224
        assert re.search(rf" ({acres - 1e-6:.0f}|{acres + 1e-6:.0f})  ", row)  # 22.5 is either


def test_the_hours_stand_over_their_signs():
    lines = screen_text(outlook_of("sagebeck"), "us").splitlines()
    axis = next(line for line in lines if "|6 pm" in line)
    label = len(next(line for line in lines if line.startswith("bench"))) - 42
    assert axis.index("|6 pm") == label + 2  # 5 pm is now, a sign is half an hour
    assert axis.index("|noon") == label + 38


@pytest.mark.slow
def test_weight_falls_on_names_work_and_what_comes_next_and_changes_no_letter():
    made = late()
    plain, heavy = (screen_text(made, "us", weight=weight) for weight in (False, True))
    assert "\x1b" not in plain
    assert re.sub(r"\x1b\[[01]m", "", heavy) == plain
    bold = re.findall(r"\x1b\[1m(.*?)\x1b\[0m", heavy)
    assert any(text.startswith("BENCH MISSES") for text in bold)
    assert any(re.fullmatch("R+", text) for text in bold)
    assert bold[-1].startswith("Next: ")
    assert not re.search(r"\x1b\[(?![01]m)", heavy)  # weight, never a color


@pytest.mark.slow
def test_more_is_named_until_it_is_shown():
    made = outlook_of("sagebeck")
    assert "More: --hours --why --all." in screen_text(made, "us")
    assert "hour by hour" not in outlook_text(made, "us", hours=False)
    assert "Why, bench" not in outlook_text(made, "us", why=False)
    assert "More: " not in outlook_text(made, "us")


@pytest.mark.parametrize("encoding", ["ascii", pytest.param("cp1252", marks=pytest.mark.slow)])
def test_the_next_step_can_be_typed_in_any_shell(encoding):
    made = in_language("vallumbria", "es")
    text = screen_text(made, "metric", farm_option=" --farm 'my farm/farm.toml'")
    command = text.splitlines()[-1].strip()
    assert re.fullmatch(r"hayweather log add soto \d+\.\d --farm 'my farm/farm\.toml'", command)
    command.encode(encoding)


def test_the_evening_tells_how_sure_and_what_the_hay_allows_as_the_screen_does():
    night = outlook_of("sagebeck")
    sheet, voice = make_runsheet(night), farm_voice(night, "us")
    alone = 0
    for field in night:
        said = field_tonight(field, sheet, voice)
        work = stretches_of(field, night)
        shares = {f"throughout {10 * item.window.good_throughout:.0f} in 10" for item in work}
        told = [line.text for line in said.lines if line.advice == Advice.GO]
        assert bool(told) == bool(work)
        assert all(any(share in text for share in shares) for text in told)
        allowed = allowed_sentence(field, night, voice)
        assert (allowed in said.notes) == bool(allowed)
        alone += bool(allowed)
    assert alone


@cache
def read_at_two(*, rain: bool) -> Night:
    """The sample night at 2 am, bench read in its band; with or without rain in the weather."""
    farm = read_farm(FOLDER / "sagebeck.toml")
    weather = weather_for(farm, farm.sites)
    if not rain:
        weather = {
            name: replace(item, columns={k: v for k, v in item.columns.items() if k != "rain_mm"})
            for name, item in weather.items()
        }
    now = np.datetime64("2025-07-09T09:00", "s")
    read = {"bench": (Reading(now - 4 * QUARTER, 13.0),)}
    return night_of(farm, weather, now, read, field="bench", members=60)


def test_what_alone_holds_the_hay_back_is_said_for_what_it_is():
    """Hay that was read in its band is not "unsure" because the weather tells no rain."""
    held, free = read_at_two(rain=False), read_at_two(rain=True)
    assert not held["bench"].headline.as_it_lies
    assert free["bench"].headline.as_it_lies
    text = flat(screen_text(held, "us"))
    assert "probe first: this weather says nothing of rain" in text
    assert "sure enough" not in text
    assert "sure enough" not in flat(outlook_text(held, "us"))
    assert text.count("Rain unknown") == 1


def test_nobody_is_sent_to_bed_while_hay_may_be_ready():
    night = read_at_two(rain=False)
    text, command = next_step(night, farm_voice(night, "us"))
    assert text == "Next: probe bench now and log it, e.g."
    assert re.fullmatch(r"hayweather log add bench 1\d\.\d", command)
    over = replace(night["bench"].headline, maybe=(), dew_chance=0.4)
    hoped = replace(night, fields=(replace(night["bench"], headline=over),))
    text, _ = next_step(hoped, farm_voice(hoped, "us"))
    assert text == "Next: probe bench before any work and log it, e.g."
    assert "Sleep" not in outlook_text(hoped, "us")
    none = replace(over, dew_chance=0.0)
    slept = replace(night, fields=(replace(night["bench"], headline=none),))
    text, _ = next_step(slept, farm_voice(slept, "us"))
    assert text == "Next: rest, and ask again this evening:"  # it is 2 am: not tomorrow's


@pytest.mark.parametrize("language", ["en", pytest.param("es", marks=pytest.mark.slow)])
def test_a_machine_out_of_order_stands_on_every_output_and_works_nowhere(language):
    """On screen, sheet and message; its own message too; a baler without work is told so."""
    farm = replace(read_farm(FOLDER / "vallumbria.toml"), language=language)
    since = np.datetime64("2025-07-10T14:00", "s")
    farm = replace(farm, out_of_order=(("rig", since),))
    now = np.datetime64("2025-07-11T01:40", "s")
    night = night_of(farm, weather_for(farm, farm.sites), now, members=40)
    sheet = make_runsheet(night)
    assert all(machine.kind == "baler" for machine in sheet.machines)
    said = {"en": "Rig out of order since", "es": "Equipo humectador: máquina averiada desde"}
    texts = [screen_text(night, "metric"), outlook_text(night, "metric"),
             runsheet_text(sheet, "metric")]  # fmt: skip
    for text in map(flat, texts):
        assert text.count(said[language]) == 1
    own = " ".join(runsheet_message(sheet.of_machine("rig"), "metric", "rig"))
    assert {"en": "RIG OUT OF ORDER since", "es": "EQUIPO HUMECTADOR: AVERIA desde"}[
        language
    ] in own
    idle = " ".join(runsheet_message(sheet.of_machine("redonda"), "metric", "redonda"))
    word = {"en": "BALER REDONDA: no work", "es": "EMPACADORA REDONDA: nada que hacer"}[language]
    assert (word in idle) != any(machine.name == "redonda" for machine in sheet.machines)


def test_who_works_now_is_not_sent_to_rest():
    night = read_at_two(rain=True)
    assert stretches_of(night["bench"], night)[0].window.start <= night.now
    head = replace(night["bench"].headline, check=None, rig=())
    now = replace(night, fields=(replace(night["bench"], headline=head),))
    text, command = next_step(now, farm_voice(now, "us"))
    assert text.startswith("Next: speed, and what the meter should read")
    assert command == "hayweather runsheet"


def test_what_is_next_is_what_most_hangs_on():
    """A reading before work on dew first; with none left and work far off, when it begins."""
    night = outlook_of("sagebeck")
    text, command = next_step(night, farm_voice(night, "us"))
    assert text == "Next: probe bench at 11 pm and log it, e.g."
    assert command.startswith("hayweather log add bench ")
    read = tuple(replace(item, headline=replace(item.headline, check=None)) for item in night)
    text, command = next_step(replace(night, fields=read), farm_voice(night, "us"))
    assert text.startswith("Next: no work before ")
    assert command == "hayweather outlook"
