"""An answer from the service, else from the store, with a word about which."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Generic, TypeVar

import numpy as np

from hayweather.weather.record import Assumption
from hayweather.weather.services.body import parse_body
from hayweather.weather.services.failures import ServiceError
from hayweather.weather.services.http import Request, ask
from hayweather.weather.services.settings import Limits, ServiceSettings
from hayweather.weather.store import AnswerStore, Lookup, StoredAnswer

T = TypeVar("T")


@dataclass(frozen=True)
class Access:
    """How answers are come by.

    Attributes
    ----------
    settings, limits
        What is set, and the limits of this errand.
    store
        The folder of stored answers.
    now
        UTC time of the errand, written beside what is stored.
    offline
        True when the store alone may be used.
    """

    settings: ServiceSettings
    limits: Limits
    store: AnswerStore
    now: np.datetime64
    offline: bool = False


@dataclass(frozen=True)
class Reading(Generic[T]):
    """How the JSON of an answer becomes a value, and when it may serve.

    Attributes
    ----------
    read
        Turns the JSON into the value; raises `ServiceError` when it is unfit.
    serves
        Whether a value is of use: a fresh one that is not neither serves nor
        replaces a stored one that is.
    check
        Raises `ServiceError` for a value that is no weather of the place; asked of
        fresh and stored ones alike.
    lasts
        Whether a value is complete and past change, to be kept for good.
    joins
        Whether the sound values stored before it are wanted too.
    young_s
        A stored answer younger than this serves without asking [s].
    """

    read: Callable[[object], T]
    serves: Callable[[T], bool] = lambda value: True
    check: Callable[[T], object] = lambda value: None
    lasts: Callable[[T], bool] = lambda value: False
    joins: bool = False
    young_s: float = 0.0


@dataclass(frozen=True)
class Obtained(Generic[T]):
    """A value with its origin.

    Attributes
    ----------
    value
        What the answer says.
    fetched
        UTC time of its fetch.
    stored
        True when it serves because the service did not.
    notes
        What people should know about it.
    earlier
        Sound stored values before it with the time of their fetch, the newest first.
    """

    value: T
    fetched: np.datetime64
    stored: bool = False
    notes: tuple[Assumption, ...] = ()
    earlier: tuple[tuple[T, np.datetime64], ...] = ()


LEAST_AHEAD_H = 6.0
"""A forecast that ends sooner says nothing of a night (assumed)."""
CLOCK_SLACK = np.timedelta64(3600, "s")
"""An answer stored so much later than now was stored by a clock that was wrong (assumed)."""


def covers(begin: np.datetime64, end: np.datetime64, now: np.datetime64) -> bool:
    """Whether hours from `begin` to `end` serve a forecast asked for at `now`, all UTC."""
    ahead = np.timedelta64(round(3600 * LEAST_AHEAD_H), "s")
    return bool(begin <= now.astype("datetime64[h]") and now + ahead <= end)


def open_access(
    settings: ServiceSettings, *, now: np.datetime64, offline: bool = False, bulk: bool = False
) -> Access:
    """Access with the store and limits of `settings`."""
    limits = settings.bulk_limits if bulk else settings.limits
    store = AnswerStore(settings.store_folder())
    return Access(settings, limits, store, now.astype("datetime64[s]"), offline)


def obtain(
    access: Access, request: Request, reading: Reading[T], *, keep: bool = True
) -> Obtained[T]:
    """The value of `request`: kept for good, else fresh, else as last stored.

    A fresh answer is stored once it has been read, judged and found to serve.

    Parameters
    ----------
    access, request, reading
        How, what, and what becomes of it.
    keep
        False where the answer is asked for one fact of it, and not judged.

    Raises
    ------
    ServiceError
        If the service fails and nothing stored serves; its line says both.
    """
    lookup = access.store.load(request.identity)
    ready = _ready(access, lookup, request, reading)
    if ready is not None:
        return ready
    try:
        return _fresh(access, lookup, request, reading, keep=keep)
    except ServiceError as caught:
        failure = caught
    return _stored(access, lookup, request, reading, failure)


def _ready(
    access: Access, lookup: Lookup, request: Request, reading: Reading[T]
) -> Obtained[T] | None:
    """A stored value that makes asking needless."""
    answer = lookup.answer
    if answer is None:
        return None
    age_s = (access.now - answer.fetched) / np.timedelta64(1, "s")
    if not (answer.kept or 0 <= age_s < reading.young_s):
        return None
    try:
        return Obtained(_value_of(answer, request, reading), answer.fetched)
    except ServiceError:
        return None


def _fresh(
    access: Access, lookup: Lookup, request: Request, reading: Reading[T], *, keep: bool
) -> Obtained[T]:
    """Ask the service, and store its answer once it has been found fit."""
    if access.offline:
        raise ServiceError("service_offline", request.service)
    body, content = ask(request, access.settings, access.limits)
    value = reading.read(content)
    reading.check(value)
    if not reading.serves(value):
        raise ServiceError("service_serves_not", request.service, hours=f"{LEAST_AHEAD_H:.0f}")
    if not keep:
        return Obtained(value, access.now)
    answer = StoredAnswer(request.identity, body, access.now, reading.lasts(value))
    notes = () if access.store.save(answer) else (Assumption("store_not_written"),)
    if lookup.damaged:
        notes = (*notes, Assumption("store_damaged"))
    earlier = tuple(_sound(access, lookup, request, reading)) if reading.joins else ()
    return Obtained(value, access.now, notes=notes, earlier=earlier)


def _stored(
    access: Access, lookup: Lookup, request: Request, reading: Reading[T], failure: ServiceError
) -> Obtained[T]:
    """The newest stored value that serves, in place of the one that could not be had."""
    if lookup.answer is None:
        raise failure.with_stored("damaged" if lookup.damaged else "none")
    sound, past = _sound(access, lookup, request, reading), False
    for value, fetched in sound:
        past = True
        if reading.serves(value):
            note = Assumption(f"stored_{failure.family}", {"service": request.service})
            earlier = tuple(sound) if reading.joins else ()
            return Obtained(value, fetched, stored=True, notes=(note,), earlier=earlier)
    raise failure.with_stored("past" if past else "damaged")


def _sound(
    access: Access, lookup: Lookup, request: Request, reading: Reading[T]
) -> Iterator[tuple[T, np.datetime64]]:
    """Stored values that can be read and pass the judge, the newest first, with their times."""
    for answer in lookup.answers:
        if not answer.kept and answer.fetched > access.now + CLOCK_SLACK:
            continue
        try:
            value = _value_of(answer, request, reading)
            reading.check(value)
        except ServiceError:
            continue
        yield value, answer.fetched


def _value_of(answer: StoredAnswer, request: Request, reading: Reading[T]) -> T:
    return reading.read(parse_body(answer.body, request.service))
