"""What a farm file must say before its fields can be planned, each refused in one line."""

from __future__ import annotations

from hayweather.baling.setting import machines_of
from hayweather.errors import FarmFileError, OptionError
from hayweather.farm.records import Farm
from hayweather.plan.rates import too_heavy

MOST_DAYS = 7


def check_days(days: int) -> None:
    """Refuse a number of nights that no forecast serves.

    Parameters
    ----------
    days
        Nights to plan.

    Raises
    ------
    OptionError
        If it is not 1 to 7.
    """
    if not 1 <= days <= MOST_DAYS:
        raise OptionError("fields_days", "--days", value=days, most=MOST_DAYS)


def price_needed(farm: Farm) -> float:
    """The price of hay [/kg], after everything else that a plan needs was found.

    Parameters
    ----------
    farm
        With the fields and balers that are to be planned.

    Raises
    ------
    FarmFileError
        If there is no price, a field has no area or yield, a baler has no
        capacity, or a windrow is heavier than every baler takes.
    """
    where = str(farm.path or "")
    for name, baler in farm.balers.items():
        if not baler.capacity_kg_h:
            raise FarmFileError("fields_no_capacity", where, baler=name)
    for name, field in farm.fields.items():
        if not field.area_m2:
            raise FarmFileError("fields_no_area", where, field=name)
        if not field.yield_kg_m2:
            raise FarmFileError("fields_no_yield", where, field=name)
        if all(too_heavy(baler, field) for baler in machines_of(farm, field)[0]):
            raise FarmFileError("fields_heavy", where, field=name)
    if not farm.money.price_per_kg:
        raise FarmFileError("fields_no_price", where)
    return farm.money.price_per_kg
