"""No name of the demo shop can be somebody's: each is plainly invented by the rule at the head of shop.toml."""

import tomllib
from pathlib import Path

from service import demo

STORY = tomllib.loads(Path(demo.__file__).with_name("shop.toml").read_text("utf-8"))
# Words of the trade and of the land, of which soils, materials, presses, moulds and pits are named.
PLAIN = {
    "bank", "bench", "block", "clay", "cement", "crusher", "crushing", "cut", "dial", "field", "fines",
    "foundation", "forming", "grey", "hall", "hand", "hollow", "kid", "lever", "loam", "lower", "parlour",
    "pit", "plot", "pond", "press", "quarry", "sandy", "shed", "silt", "silty", "soil", "store", "terrace",
    "trench", "upper", "north", "corner", "behind", "the",
}  # fmt: skip


def words(name: str) -> set[str]:
    return {word.strip(",.()").lower() for word in name.split() if word.strip(",.()").isalpha() and word != "x"}


def every(key: str, data=STORY):
    if isinstance(data, dict):
        for name, below in data.items():
            if name == key and isinstance(below, str):
                yield below
            else:
                yield from every(key, below)
    elif isinstance(data, list):
        for below in data:
            yield from every(key, below)


def test_people_shop_customers_and_sites_are_samples():
    assert STORY["shop"]["name"] == "Sample Soil Bench (demo)"
    assert {person["name"].split()[-1] for person in STORY["person"]} == {"Sample"}
    called = [*(one["name"] for one in STORY["customer"]), *every("customer"), *every("site")]
    assert len(called) > 10 and all(name.startswith("Sample ") for name in called)


def test_soils_materials_and_tools_have_words_of_the_trade_for_names():
    named = [one["name"] for kind in ("material", "mould", "press") for one in STORY[kind]]
    named += [gauge["name"] for press in STORY["press"] for gauge in press["gauge"]]
    assert {word for name in (*named, *every("soil"), *every("pit")) for word in words(name)} <= PLAIN


def test_addresses_are_nobodys_and_sources_are_invented():
    assert all(address.endswith("@demo.invalid") for address in (*every("email"), *every("contact")))
    sources = list(every("source"))
    assert sources and all(source.startswith("Invented") for source in sources)
    assert all("invented" in reference for reference in every("reference"))
