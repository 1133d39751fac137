"""An answer from the service, else from the store, with a word about which."""

from __future__ import annotations

from collections.abc import Callable
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
        Whether a stored value is still of use.
    lasts
        Whether a value is complete and past change, to be kept for good.
    young_s
        A stored answer younger than this serves without asking [s].
    """

    read: Callable[[object], T]
    serves: Callable[[T], bool] = lambda value: True
    lasts: Callable[[T], bool] = lambda value: False
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
    """

    value: T
    fetched: np.datetime64
    stored: bool = False
    notes: tuple[Assumption, ...] = ()


def open_access(
    settings: ServiceSettings, *, now: np.datetime64, offline: bool = False, bulk: bool = False
) -> Access:
    """Access with the store and limits of `settings`."""
    limits = settings.bulk_limits if bulk else settings.limits
    store = AnswerStore(settings.store_folder())
    return Access(settings, limits, store, now.astype("datetime64[s]"), offline)


def obtain(access: Access, request: Request, reading: Reading[T]) -> Obtained[T]:
    """The value of `request`: kept for good, else fresh, else as last stored.

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
        return _fresh(access, lookup, request, reading)
    except ServiceError as caught:
        failure = caught
    return _stored(lookup, request, reading, failure)


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


def _fresh(access: Access, lookup: Lookup, request: Request, reading: Reading[T]) -> Obtained[T]:
    """Ask the service and store its answer once it has been read."""
    if access.offline:
        raise ServiceError("service_offline", request.service)
    body, content = ask(request, access.settings, access.limits)
    value = reading.read(content)
    answer = StoredAnswer(request.identity, body, access.now, reading.lasts(value))
    notes = () if access.store.save(answer) else (Assumption("store_not_written"),)
    if lookup.damaged:
        notes = (*notes, Assumption("store_damaged"))
    return Obtained(value, access.now, notes=notes)


def _stored(
    lookup: Lookup, request: Request, reading: Reading[T], failure: ServiceError
) -> Obtained[T]:
    """The stored value, in place of the one that could not be had."""
    if lookup.answer is None:
        raise failure.with_stored("damaged" if lookup.damaged else "none")
    try:
        value = _value_of(lookup.answer, request, reading)
        unfit = None if reading.serves(value) else failure.with_stored("past")
    except ServiceError:
        unfit = failure.with_stored("damaged")
    if unfit is not None:
        raise unfit
    note = Assumption(f"stored_{failure.family}", {"service": request.service})
    return Obtained(value, lookup.answer.fetched, stored=True, notes=(note,))


def _value_of(answer: StoredAnswer, request: Request, reading: Reading[T]) -> T:
    return reading.read(parse_body(answer.body, request.service))
