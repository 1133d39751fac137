"""Gridded weather, cell by cell, in blocks that any number of machines may work on.

Walk: `engine` leads from the file to the answer. `choice` reads the table
``[grid]``, `opening` opens a NetCDF file or Zarr store; `variables` (by the names
and units of `names`), `clock` and `space` read what it says of itself. `hours`
brings a part of it to hours, `cells` counts its nights, `tiles` parts the grid,
`cluster` shares the parts out, `store` keeps what is finished.
"""
