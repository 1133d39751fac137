"""Real summers for the guide, from the recorded weather named by HAYWEATHER_RECORDED.

``cd tests && python -m real`` prints the table; one word more, another:
``rig`` hours on dew and with the rig, ``hours`` hours in the band, too wet, first and
last by month, ``layers`` the layer rule beside the mean rule, ``advice`` forty nights
by call and advice, ``sites`` the sites file that the first two are made from, to run
``hayweather seasons`` on.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1])]

from support.seasons import recorded_folder  # noqa: E402

from real.five_summers import five_summers, markdown_table, rig_table, sites_text  # noqa: E402
from real.layer_hours import advice_table, layer_table  # noqa: E402
from real.night_hours import hours_table  # noqa: E402


def main(arguments: list[str]) -> int:
    """Print what is asked; 1 where there is no recorded weather."""
    folder = recorded_folder()
    if folder is None:
        print("no recorded weather: set HAYWEATHER_RECORDED", file=sys.stderr)
        return 1
    text = sites_text(folder)
    if "sites" in arguments:
        print(text, end="")
        return 0
    if "hours" in arguments:
        print(hours_table(), end="")
        return 0
    for name, made in (("layers", layer_table), ("advice", advice_table)):
        if name in arguments:
            print(made(), end="")
            return 0
    with tempfile.TemporaryDirectory() as temporary:
        path = Path(temporary, "sites.toml")
        path.write_text(text, encoding="utf-8")
        table = rig_table if "rig" in arguments else markdown_table
        print(table(five_summers(path)), end="")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
