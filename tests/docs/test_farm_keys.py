"""The guide's page of farm-file keys is what the tables say today."""

from docs.farm_keys import PAGE, page

from hayweather.catalog import BALERS, CROPS
from hayweather.farm.tables import TABLES


def test_the_page_is_the_one_the_tables_make():
    assert PAGE.read_text(encoding="utf-8") == page(), "cd tests && python -m docs.farm_keys"


def test_every_key_crop_and_kind_is_on_it():
    text = PAGE.read_text(encoding="utf-8")
    for table in TABLES.values():
        part = text.split(f"## {table.heading}\n")[1].split("\n## ")[0]
        assert part.count("\n| `") == len(table.keys)
    assert all(f"| `{name}`, " in text for name in (*CROPS, *BALERS))
