"""Seasons: many nights of many sites through the same windrow, side by side.

Walk: `sites` reads SITES.toml, `hours` the weather, `nights` cuts it into lanes,
`blocks` runs them, `tally` counts, `compare` sets sites side by side, `pays` and
`trial` put money and strips beside it. `record` holds what reports read.
"""
