"""Which hours bale on natural dew, which need added moisture, and how much.

Weather is read (`hayweather.weather`), a windrow is followed through it
(`hayweather.windrow`), each quarter hour gets its call (`hayweather.baling`),
and the result is shown (`hayweather.show`, `hayweather.cli`).
"""

__version__ = "0.1.0"
