"""Tables of both measured sites in Markdown, for the guide."""

from collections.abc import Callable, Iterable

import numpy as np
from measured import balance
from measured import bondville as site
from measured.balance import Nights
from published.comparison import brutsaert_emissivity

from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.sky import clear_sky_emissivity, dilley_longwave, prata_emissivity

NO_CEILING_S_M = 1e9
CAPS = (1.0, 1.25, 1.5, 1.75, 2.0, 3.0, 4.0)
CEILINGS_S_M = (200.0, 300.0, 400.0, NO_CEILING_S_M)
SKY_VIEWS = (0.85, 0.9, 0.95, 1.0)
CLOUD_KEPT = (1.0, 0.7, 0.5)
NEARLY_CLEAR = 0.2
DEW_HEADINGS = (
    "nights without rain",
    "both",
    "missed",
    "false",
    "neither",
    "kappa",
    "onset, h",
    "dry-off, h",
)
SKY_COLUMNS = ("clear-sky emissivity less measured, median", "longwave, W/m2", "skin, K")
FORMS: dict[str, Callable[[Nights], np.ndarray]] = {
    "Prata 1996": lambda n: prata_emissivity(n.air_c, n.vapor_kpa),
    "Brutsaert 1975": lambda n: brutsaert_emissivity(n.air_c, n.vapor_kpa),
    "Dilley & O'Brien 1998": lambda n: dilley_longwave(n.air_c, n.vapor_kpa) / n.black_w_m2,
    "mean of Prata and Dilley & O'Brien, as the windrow": lambda n: clear_sky_emissivity(
        n.air_c, n.vapor_kpa
    ),
}


def table(headings: Iterable[str], rows: Iterable[Iterable[object]]) -> str:
    """Markdown."""
    head = list(headings)
    lines = [head, ["---"] + ["---:"] * (len(head) - 1), *rows]
    return "\n".join(f"| {' | '.join(map(str, cells))} |" for cells in lines) + "\n"


def pair(bias: float, spread: float, digits: int = 2) -> str:
    """``"-0.07 / 1.17"``."""
    return f"{bias:+.{digits}f} / {spread:.{digits}f}"


def bondville_table(series) -> str:
    """Skin and dew nights of Bondville, by sensor limit and month."""
    nights, evenings = site.half_hours_of_nights(series), site.evenings(series)
    made = site.run_windrow(evenings)
    skin = site.windrow_skin(series, evenings, made)
    computed = balance.model_skin(nights, balance.computed_longwave(nights))
    found = [
        ("balance, measured longwave and ground heat (asked 1.1)", nights.period.size,
         balance.bias_and_spread(nights, balance.model_skin(nights))),
        ("balance, longwave as in a forecast (asked 1.4)", nights.period.size,
         balance.bias_and_spread(nights, computed)),
        ("whole windrow as by a forecast (asked 1.4)", skin.count, (skin.bias, skin.spread)),
    ]  # fmt: skip
    rows = [(title, count, pair(*errors)) for title, count, errors in found]
    text = table(("skin, 21 to 05 h, K", "half-hours", "bias / RMSE"), rows)
    dry, wetness = site.dry_nights(series, evenings), site.windrow_wetness(evenings, made)
    month = np.array([day.month for day in evenings.days])
    asked = [(f"sensor above {volt:.2f} V", volt, dry) for volt in (0.08, 0.10, 0.12)]
    asked += [(f"month {each}, 0.10 V", 0.10, dry & (month == each)) for each in np.unique(month)]
    rows = []
    for title, volt, counted in asked:
        sensor = site.measured_wetness(series, evenings, volt)
        rows.append(_dew_cells(title, site.compare(sensor, wetness, counted)))
    return text + "\n" + table(DEW_HEADINGS, rows)


def _dew_cells(title: str, found: site.DewNights) -> tuple[object, ...]:
    times = f"{found.onset_h:+.2f}", f"{found.dry_off_h:+.2f}"
    kappa = f"{found.kappa:.2f}" if found.false + found.neither else "-"
    return title, found.both, found.missed, found.false, found.neither, kappa, *times


def skin_errors(nights: Nights, longwave_w_m2: np.ndarray | None = None, **changed) -> tuple:
    """Bias and RMSE of the balance with some parameters changed [K]."""
    return balance.bias_and_spread(nights, balance.model_skin(nights, longwave_w_m2, **changed))


def refit_table(sites: dict[str, Nights]) -> str:
    """Cap, ceiling and sky view with measured longwave; each site's best beside the other."""
    now = WindrowParameters()
    title = f"as the windrow: cap {now.night_cap:g}, at most {now.air_resistance_max_s_m:g} s/m"
    swept: list[tuple[str, dict[str, float]]] = [(title, {})]
    swept += [(f"cap {cap:g}", {"night_cap": cap}) for cap in CAPS]
    for top in CEILINGS_S_M:
        title = "no ceiling" if top == NO_CEILING_S_M else f"at most {top:g} s/m"
        swept.append((title, {"air_resistance_max_s_m": top}))
    swept += [(f"sky view {view:g}", {"sky_view": view}) for view in SKY_VIEWS]
    rows = [
        (title, *(pair(*skin_errors(nights, **changed)) for nights in sites.values()))
        for title, changed in swept
    ]
    text = table(("bias / RMSE of the skin, K, measured longwave", *sites), rows)
    return text + "\n" + held_out_table(sites)


def held_out_table(sites: dict[str, Nights]) -> str:
    """The cap and the ceiling that one site alone would choose, and what the other says."""
    rows = []
    for name, nights in sites.items():
        others = [other for other in sites if other != name]
        for title, key, values in (
            ("cap", "night_cap", CAPS),
            ("ceiling, s/m", "air_resistance_max_s_m", CEILINGS_S_M),
        ):
            best = min(values, key=lambda each: skin_errors(nights, **{key: each})[1])
            cells = [pair(*skin_errors(sites[each], **{key: best})) for each in (name, *others)]
            rows.append((f"{title} by {name}", f"{best:g}", *cells))
    return table(("fitted on one site", "value", "there", "the other, held out"), rows)


def longwave_of(nights: Nights, emissivity: np.ndarray, kept: float) -> np.ndarray:
    """Longwave by a clear-sky emissivity, and the part of the day's cloud kept by night [W/m2]."""
    cloud = 0.84 * kept * nights.cloud_held
    return ((1 - cloud) * emissivity + cloud) * nights.black_w_m2


def sky_table(sites: dict[str, Nights]) -> str:
    """Clear-sky emissivity and the cloud held overnight, as in a forecast without cloud."""
    columns = (f"{each}: {what}" for each in sites for what in SKY_COLUMNS)
    headings = ("clear sky, share of the cloud kept", *columns)
    rows = []
    for title, form in FORMS.items():
        for kept in CLOUD_KEPT:
            cells = []
            for nights in sites.values():
                emissivity = form(nights)
                clear = nights.cloud < NEARLY_CLEAR
                off = np.median((emissivity - nights.emissivity)[clear])
                longwave = longwave_of(nights, emissivity, kept)
                error = longwave - nights.longwave_w_m2
                spread = float(np.sqrt((error**2).mean()))
                cells += [
                    f"{off:+.3f}",
                    pair(float(error.mean()), spread, 1),
                    pair(*skin_errors(nights, longwave)),
                ]
            rows.append((f"{title}, x{kept:g}", *cells))
    return table(headings, rows)
