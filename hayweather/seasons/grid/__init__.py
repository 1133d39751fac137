"""Gridded weather, cell by cell, in blocks that any number of machines may work on.

Walk: `opening` opens a NetCDF file or Zarr store, `variables`, `clock` and
`space` read what it says of itself, `hours` brings a part of it to hours,
`cells` counts its nights, `tiles` parts the grid, `cluster` shares the parts
out, `store` keeps what is finished, `engine` does it all.
"""
