"""Seasons: many nights of many sites through the same windrow, side by side.

Walk: `engine` leads from the sites file to the answer. `sites` reads SITES.toml,
`hours` the weather; `work` knows one site while it runs; `nights` cuts hours into
lanes, `blocks` runs them on one core or several and `outcome` says what each
night gave; `keep` keeps finished blocks. `tally` counts, `follow` follows a
cutting through real nights, `compare` sets sites side by side, `variants` changes
one input, `pays` puts money beside it. `grid` does the same for gridded weather.
Apart from these, `strips` reads a trial and `trial` judges it. `record` holds
what reports read.
"""
