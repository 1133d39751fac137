"""The windrow model: how cut hay takes up and loses moisture, hour by hour.

NumPy only: no clock, no path, no pandas, no screen. Fluxes toward the hay are
positive; moisture is kg water per kg dry matter (dry basis, ``_db``) inside and
percent wet basis (``_wb``) for people.
"""
