"""``python -m hayweather``: the same commands as ``hayweather``."""

from hayweather.cli.main import main

main()
