"""Tables of the measured sites: ``cd tests && python -m measured``.

Bondville by its month here, or by the whole series where HAYWEATHER_RECORDED has
it; with ``--both`` also the night cap, the ceiling, the sky and the cloud held
overnight on both sites, the alfalfa field from the package registry.
"""

import sys
import tempfile
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1])]

from measured import bondville as site  # noqa: E402
from measured import tables  # noqa: E402
from open_data import alfalfa_field as field  # noqa: E402


def main(arguments: list[str]) -> int:
    """Print."""
    series = site.read(site.recorded_file() or site.EXTRACT)
    print(tables.bondville_table(series))
    if "--both" not in arguments:
        return 0
    with tempfile.TemporaryDirectory() as folder:
        try:
            alfalfa = field.read_nights(field.download(Path(folder)))
        except field.NoRegistry as problem:
            print(f"SKIPPED: no package registry answered: {problem}")
            return 1
    sites = {"US-Tw3": alfalfa, "Bondville": site.half_hours_of_nights(series)}
    print(tables.refit_table(sites))
    print(tables.sky_table(sites))
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
