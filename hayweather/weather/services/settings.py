"""What is set for the services: addresses, key, contact, store, limits.

An option beats the environment, the environment beats the default; the contact
of a farm file beats that of the environment. The key comes from the environment
only and stays out of every text, `repr` included.
"""

from __future__ import annotations

import ipaddress
import os
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal
from urllib.parse import SplitResult, urlsplit

from hayweather.errors import OptionError
from hayweather.weather.catalog import OPEN_METEO, addresses
from hayweather.words import say

Origin = Literal["option", "farm", "environment", "default"]

KEY_VARIABLE = OPEN_METEO.key_variable
CONTACT_VARIABLE = "HAYWEATHER_CONTACT"
STORE_VARIABLE = "HAYWEATHER_STORE"
URL_OPTION = "--weather-url"


@dataclass(frozen=True)
class Setting:
    """One setting in force and where it came from."""

    value: str | None
    origin: Origin


@dataclass(frozen=True)
class Limits:
    """How long, how large and how often; all assumed, all settable.

    Attributes
    ----------
    connect_s, read_s
        Longest wait for a connection and between two pieces of an answer [s].
    total_s
        Longest time one request may take altogether [s].
    body_bytes
        Largest answer taken, unpacked [bytes].
    waits_s
        Waits before each new try [s]; their number is the number of retries.
    longest_wait_s
        A service that asks for a longer wait is not waited for [s].
    """

    connect_s: float = 5.0
    read_s: float = 10.0
    total_s: float = 30.0
    body_bytes: int = 20_000_000
    waits_s: tuple[float, ...] = (1.0, 3.0)
    longest_wait_s: float = 20.0


PATIENT = Limits(total_s=120.0, waits_s=(5.0, 20.0, 60.0, 60.0), longest_wait_s=120.0)
"""Limits for pulling many years, where nobody waits at the kitchen table."""


@dataclass(frozen=True)
class ServiceSettings:
    """Everything the services need to know of their surroundings.

    Build it with `from_environment`. `sleep` is called with seconds between
    two tries; `believe` names checks of the judge that shall not refuse an answer.
    """

    urls: Mapping[str, Setting]
    contact: Setting
    store: Setting
    key: str | None = field(default=None, repr=False)
    believe: tuple[str, ...] = ()
    limits: Limits = Limits()
    bulk_limits: Limits = PATIENT
    sleep: Callable[[float], None] = field(default=time.sleep, repr=False, compare=False)

    @classmethod
    def from_environment(
        cls,
        environ: Mapping[str, str] | None = None,
        *,
        options: Mapping[str, str | None] | None = None,
    ) -> ServiceSettings:
        """Settings from the environment and from options of a command.

        Parameters
        ----------
        environ
            The environment; that of the process when None.
        options
            ``{name: value}``, names those of `catalog.addresses`, ``contact`` (of the
            farm file) and ``store``; a value of None means "not given".

        Raises
        ------
        OptionError
            If an address or the contact cannot be used.
        """
        surroundings = os.environ if environ is None else environ
        given = options or {}
        urls = {
            name: _base_url(variable, _pick(name, variable, given, surroundings, default))
            for name, (variable, default) in addresses().items()
        }
        contact = _pick("contact", CONTACT_VARIABLE, given, surroundings, None)
        if contact.origin == "option":
            contact = Setting(contact.value, "farm")
        _check_contact(contact)
        return cls(
            urls=urls,
            contact=contact,
            store=_pick("store", STORE_VARIABLE, given, surroundings, None),
            key=(surroundings.get(KEY_VARIABLE) or "").strip() or None,
        )

    def base(self, name: str) -> str:
        """The base address in force, as stored answers know it."""
        return self.urls[name].value or addresses()[name][1]

    def paid_base(self, name: str) -> str:
        """The base address a request goes to: paying users have their own hosts."""
        base = self.base(name)
        if (
            self.key is None
            or self.urls[name].origin != "default"
            or name not in OPEN_METEO.addresses
        ):
            return base
        return base.replace("https://", "https://customer-", 1)

    def store_folder(self) -> Path:
        """The folder of stored answers."""
        if self.store.value:
            return Path(self.store.value).expanduser()
        import platformdirs

        return platformdirs.user_cache_path("hayweather") / "answers"

    def describe(self, language: str = "en") -> tuple[tuple[str, str, str], ...]:
        """What is in force, as rows of (name, value, where from), for people.

        The key is shown as present or absent only.
        """
        rows = [
            (addresses()[name][0], self.paid_base(name), setting.origin)
            for name, setting in self.urls.items()
        ]
        state = "absent" if self.key is None else "present"
        none = say("service_setting_none", language)
        rows += [
            (KEY_VARIABLE, say(f"service_key_{state}", language), _key_origin(self.key)),
            (CONTACT_VARIABLE, self.contact.value or none, self.contact.origin),
            (STORE_VARIABLE, str(self.store_folder()), self.store.origin),
        ]
        return tuple(
            (name, value, say(f"service_origin_{origin}", language)) for name, value, origin in rows
        )


def _key_origin(key: str | None) -> Origin:
    return "default" if key is None else "environment"


def _pick(
    name: str,
    variable: str,
    options: Mapping[str, str | None],
    environ: Mapping[str, str],
    default: str | None,
) -> Setting:
    """The first of option, environment and default that says something."""
    option = (options.get(name) or "").strip()
    if option:
        return Setting(option, "option")
    from_environment = (environ.get(variable) or "").strip()
    if from_environment:
        return Setting(from_environment, "environment")
    return Setting(default, "default")


def _base_url(variable: str, setting: Setting) -> Setting:
    """The setting with its address checked and without a slash at its end."""
    where = URL_OPTION if setting.origin == "option" else variable
    text = setting.value or ""
    try:
        parts = urlsplit(text)
        usable = _is_usable(parts)
    except ValueError:
        usable = False
    if not usable:
        raise OptionError("service_base_url", where, value=_harmless(text))
    return Setting(f"{parts.scheme}://{parts.netloc}", setting.origin)


def _is_usable(parts: SplitResult) -> bool:
    """Scheme, host and port only; plain http to this computer only."""
    bare = parts.path in ("", "/") and not (parts.query or parts.fragment or "@" in parts.netloc)
    fit = bool(parts.hostname) and (parts.port is None or parts.port > 0)
    safe = parts.scheme == "https" or (parts.scheme == "http" and is_loopback(parts.hostname or ""))
    return bare and fit and safe


def is_loopback(host: str) -> bool:
    """True for the host names and numbers of this computer itself.

    Examples
    --------
    >>> is_loopback("127.0.0.5"), is_loopback("10.0.0.1")
    (True, False)
    """
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _harmless(text: str) -> str:
    """An address without what may be secret in it: user, path, query."""
    without_query = text.split("?")[0].split("#")[0]
    scheme, mark, rest = without_query.partition("://")
    host = rest.split("/")[0].rpartition("@")[2] if mark else ""
    return f"{scheme}{mark}{host}" if mark else without_query.rpartition("@")[2][:60]


def _check_contact(contact: Setting) -> None:
    """Refuse a contact that cannot stand in the head of a request."""
    text = contact.value or ""
    if not (text.isascii() and text.isprintable()):
        where = "[weather] contact" if contact.origin == "farm" else CONTACT_VARIABLE
        raise OptionError("service_contact_unfit", where)
