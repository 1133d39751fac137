"""A service that did not give an answer to build on, as one line for people."""

from __future__ import annotations

from typing import Literal

from hayweather.errors import WeatherUnavailableError
from hayweather.words import Remark, say

Family = Literal["unreachable", "refused", "down", "unreadable", "offline"]
Stored = Literal["unknown", "none", "damaged", "past"]

FAMILIES: dict[str, Family] = {
    "service_unreachable": "unreachable",
    "service_certificate": "unreachable",
    "service_timeout": "unreachable",
    "service_too_slow": "unreachable",
    "service_redirect": "refused",
    "service_refused": "refused",
    "service_turned_away": "refused",
    "service_too_many": "refused",
    "service_down": "down",
    "service_no_data": "refused",
    "service_offline": "offline",
}
"""What kind of trouble a text speaks of; everything else is an unreadable answer."""

LONGEST_QUOTE = 160


class ServiceError(WeatherUnavailableError):
    """The service failed; the line also says why no stored answer serves.

    Parameters
    ----------
    key
        As in `HayweatherError`.
    where
        The service as people call it.
    retry
        True when the same request may well succeed in a moment.
    wait_s
        Seconds the service asked to wait, None when it did not say [s].
    stored
        What is known of the stored answer; "unknown" adds nothing to the line.
    **values
        As in `HayweatherError`.
    """

    def __init__(
        self,
        key: str,
        where: str | Remark = "",
        *,
        retry: bool = False,
        wait_s: float | None = None,
        stored: Stored = "unknown",
        **values: object,
    ) -> None:
        super().__init__(key, where, **values)
        self.retry = retry
        self.wait_s = wait_s
        self.stored = stored

    @property
    def family(self) -> Family:
        """What kind of trouble this is."""
        return FAMILIES.get(self.key, "unreadable")

    def line(self, language: str = "en") -> str:
        """The one line, with what is known of the stored answer at its end."""
        line = super().line(language)
        if self.stored == "unknown":
            return line
        return f"{line}; {say(f'service_stored_{self.stored}', language)}"

    def with_stored(self, stored: Stored) -> ServiceError:
        """The same failure, saying why no stored answer serves."""
        return ServiceError(
            self.key,
            self.where,
            retry=self.retry,
            wait_s=self.wait_s,
            stored=stored,
            **self.values,
        )


def quote(text: object) -> str:
    """A foreign text made fit for one line: printable, without braces, not long.

    Examples
    --------
    >>> quote("Minutely limit\\n exceeded")
    'Minutely limit exceeded'
    """
    begin = (text if isinstance(text, str | bytes) else str(text))[: 4 * LONGEST_QUOTE]
    printable = "".join(sign if sign.isprintable() else " " for sign in str(begin))
    short = " ".join(printable.split())
    return short if len(short) <= LONGEST_QUOTE else short[: LONGEST_QUOTE - 1] + "…"
