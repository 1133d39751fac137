"""``hayweather trial``: what a grower's own strips can show."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from hayweather.catalog import DEFAULT_BALER, kind_of
from hayweather.cli import options as o
from hayweather.errors import OptionError
from hayweather.words import default_language

TrialFile = Annotated[
    Path, typer.Argument(metavar="TRIAL.csv", help=o.help_text("trial_file"), show_default=False)
]
PriceOption = Annotated[
    str | None, typer.Option("--price", metavar="MONEY", help=o.help_text("price"))
]
KindOption = Annotated[str, typer.Option("--kind", metavar="KIND", help=o.help_text("trial_kind"))]
BiasOption = Annotated[
    float,
    typer.Option("--meter-bias", metavar="POINTS", min=0, max=10, help=o.help_text("meter_bias")),
]
CostOption = Annotated[
    str | None, typer.Option("--cost", metavar="MONEY", help=o.help_text("cost"))
]


@o.command
def trial(
    trial_file: TrialFile,
    price: PriceOption = None,
    cost: CostOption = None,
    kind: KindOption = DEFAULT_BALER,
    meter_bias: BiasOption = 1.5,
    *,
    output: o.Output,
    cautions: o.CautionsOption = False,
) -> None:
    """What your own strips, with and without added moisture, can show."""
    from hayweather.cli.write import checked
    from hayweather.seasons.strips import read_strips
    from hayweather.seasons.trial import judge_trial
    from hayweather.show.trial import trial_csv, trial_json, trial_text
    from hayweather.show.voice import Voice

    shown, language = output.units or "us", default_language()
    price_kg = None if price is None else _by_kg(price, "--price", shown)
    cost_kg = 0.0 if cost is None else _by_kg(cost, "--cost", shown)
    where = checked("trial", output, [trial_file], language)
    found = read_strips(trial_file)
    kind_of(kind)
    made = judge_trial(
        trial_file.name, found.strips, price_kg, cost_kg, kind=kind, meter_bias_wb=meter_bias
    )
    voice, invented = Voice(language, shown, "UTC"), found.invented
    if where.form == "json":
        text = trial_json(made, voice, invented=invented)
    elif where.form == "csv":
        text = trial_csv(made, voice, invented=invented, raw=where.raw)
    else:
        width = o.text_width()
        text = trial_text(made, voice, width, invented=invented, all_cautions=cautions)
    where.write([(where.place, text)])


def _by_kg(text: str, option: str, units: o.Units) -> float:
    """Money per ton of the reader, per kg.

    Raises
    ------
    OptionError
        If it is no number, or below nothing.
    """
    from hayweather.units import symbol_of, to_inside

    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0 <= value < 1e6:
        raise OptionError("trial_price", option, value=o.as_given(text))
    return float(to_inside(value, "price_by_mass", symbol_of("price_by_mass", units)))
