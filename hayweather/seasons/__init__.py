"""Seasons: many nights of many sites through the same windrow, side by side.

Walk: `engine` leads from the sites file to the answer. `sites` reads SITES.toml,
`past_hours` the weather; `nights` cuts hours into lanes and says what each night
gave, `blocks` runs them on one core or several and keeps what is finished.
`tally` counts, and follows a cutting through real nights; `mean_season` makes up
for gaps and says how sure a season is, with `ranges`; `compare` sets sites side by
side, `pays` puts money beside it and says from where on a rig pays. `grid` does
the same for gridded weather. Apart from these, `strips` reads a trial and `trial`
judges it. `record` holds what reports read.
"""
