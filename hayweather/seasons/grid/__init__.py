"""Gridded weather, cell by cell, in blocks that any number of machines may work on.

Walk: `engine` leads from the file to the answer. `axes` and `variables` read what
a NetCDF file or Zarr store says of itself, `columns` brings a part of it to
hours, `cells` counts its nights, `sharing` parts the grid, shares the parts out
and keeps what is finished.
"""
