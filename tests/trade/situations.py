"""Every situation that an answer is made for, laid out by hand: what the engine said and the words follow from.

``docs/answers.md`` shows the whole text of each.
"""

from dataclasses import replace
from decimal import Decimal

from service.trade.block.test_conditions import Condition
from service.trade.sentences.tried_recipes import Straying, Tally, Trial
from service.trade.sentences.verdict import Answer, answer
from tests.trade.trials import DRY, LIMITS, SOAKED, group, limit, pair, place, recipe, trial

NATIVE, SANDY = recipe("A", cost="0.30"), recipe("B", sand=0.25, cost="0.41")
CHEAP = replace(SANDY, cost=Decimal("0.25"))
SERIES = [recipe("c4", cement=0.04), recipe("c6", cement=0.06), recipe("c8", cement=0.08)]
SOILS = [recipe("R", cost="0.30"), recipe("Y", soil="yellow clay", cost="0.35")]
NOT_TOLD_APART = pair("A", "B", ratio=0.9, low=0.7, high=1.15, more=0.1, less=0.45, same=0.45)
UP = pair("c6", "c4", ratio=1.6, low=1.3, high=2.0, more=0.97, less=0.0, same=0.03)
LATER = Condition("soaked", 4, 28)


def addition(native, other, *, recipes=(NATIVE, SANDY), **more) -> Trial:
    kept = {"pairs": [NOT_TOLD_APART], "groups": [group("A"), group("B")], **more}
    return trial("addition", recipes, order=[native, other], **kept)


def series(*places, recipes=SERIES, **more) -> Trial:
    groups = [group(one.label) for one in SERIES]
    return trial("least stabiliser", recipes, order=places, **{"groups": groups, "pairs": [UP], **more})


def soils(*places, recipes=SOILS, **more) -> Trial:
    return trial("which soil", recipes, order=places, **{"groups": [group("R"), group("Y")], **more})


def code(*places, recipes=(NATIVE,), **more) -> Trial:
    return trial("meets code", recipes, order=places, **{"groups": [group("A")], **more})


def unbroken(*, native_held, sandy_held, pairs, **more) -> Trial:
    groups = [group("A"), group("B"), group("A", DRY, held=native_held), group("B", DRY, held=sandy_held)]
    lowest = None if sandy_held == 5 else 9.8
    tallies = (Tally("A", DRY.name, 10.4), Tally("B", DRY.name, 10.6, lowest_mpa=lowest))
    return addition(place("A"), place("B"), groups=groups, pairs=pairs, tallies=tallies, **more)


_OPEN, _FAILS = "not settled", "will not do"
_UNLIMITED = {"asked": ()}

SITUATIONS: dict[str, Trial] = {
    "An addition is not needed and would cost more": addition(place("A", assurance=0.97), place("B")),
    "An addition is not needed; no price is known": addition(
        place("A"), place("B"), recipes=(replace(NATIVE, cost=None), replace(SANDY, cost=None))
    ),
    "An addition saves money and both pass": addition(place("B"), place("A"), recipes=(NATIVE, CHEAP)),
    "A cheaper addition whose strength is open saves nothing": addition(
        place("A"), place("B", _OPEN, assurance=None), recipes=(NATIVE, CHEAP)
    ),
    "Only the addition passes": addition(place("B"), place("A", _FAILS, assurance=0.01)),
    "Only the addition with a stabiliser passes": addition(
        place("B"), place("A", _FAILS, assurance=0.01), recipes=(replace(NATIVE, doses=()), SANDY)
    ),
    "The addition passes, the soil alone is open": addition(place("B"), place("A", _OPEN, assurance=0.85)),
    "The addition passes, nothing is known of the soil alone": addition(place("B"), place("A", _OPEN, assurance=None)),
    "With and without the addition all is open": addition(
        place("A", _OPEN, assurance=0.6), place("B", _OPEN, assurance=0.8)
    ),
    "With and without the addition nothing is known": addition(
        place("A", _OPEN, assurance=None), place("B", _OPEN, assurance=None)
    ),
    "The addition fails, the soil alone is open": addition(
        place("A", _OPEN, assurance=0.6), place("B", _FAILS, assurance=0.0)
    ),
    "With and without the addition all fails": addition(
        place("A", _FAILS, assurance=0), place("B", _FAILS, assurance=0)
    ),
    "No block without the addition": trial("addition", [SANDY], groups=[group("B")], order=[place("B")]),
    "No block with the addition": trial("addition", [NATIVE], groups=[group("A")], order=[place("A")]),
    "An addition without a limit makes the blocks stronger": addition(
        place("A", _OPEN, assurance=None), place("B", _OPEN, assurance=None), **_UNLIMITED,
        pairs=[pair("B", "A", ratio=1.6, low=1.3, high=2.0, more=0.98, less=0.0, same=0.02)],
    ),
    "An addition without a limit makes the blocks weaker": addition(
        place("A", _OPEN, assurance=None), place("B", _OPEN, assurance=None), **_UNLIMITED,
        pairs=[pair("B", "A", ratio=0.6, low=0.5, high=0.7, more=0.0, less=0.99, same=0.01)],
    ),
    "An addition without a limit, and the two are not told apart": addition(
        place("A", _OPEN, assurance=None), place("B", _OPEN, assurance=None), **_UNLIMITED,
        pairs=[pair("B", "A", ratio=1.1, low=0.9, high=1.3, more=0.5, less=0.05, same=0.45)],
    ),
    "An addition without a limit, shown by a bound alone": addition(
        place("A", _OPEN, assurance=None), place("B", _OPEN, assurance=None), **_UNLIMITED,
        pairs=[pair("B", "A", low=1.2)],
    ),
    "Without a limit the two recipes are shown to be equal": addition(
        place("A"), place("B"), **_UNLIMITED,
        pairs=[pair("A", "B", ratio=1.0, low=0.97, high=1.03, more=0.0, less=0.0, same=0.99)],
    ),
    "Without a limit the two recipes came out alike": addition(
        place("A"), place("B"), **_UNLIMITED,
        pairs=[pair("A", "B", ratio=1.02, low=0.9, high=1.14, more=0.1, less=0.05, same=0.85)],
    ),
    "No dry block of either recipe broke": unbroken(
        native_held=5, sandy_held=5, pairs=[pair("A", "B", DRY), NOT_TOLD_APART]
    ),
    "No dry block of one recipe broke": unbroken(
        native_held=0, sandy_held=5, pairs=[pair("A", "B", DRY, high=0.8), NOT_TOLD_APART]
    ),
    "No dry block of one recipe broke, and that tells nothing apart": unbroken(
        native_held=5, sandy_held=0, pairs=[pair("A", "B", DRY, low=0.9), NOT_TOLD_APART]
    ),
    "A ratio without a limit, with blocks that did not break": unbroken(
        native_held=2, sandy_held=3, **_UNLIMITED,
        pairs=[pair("A", "B", DRY, ratio=0.8, low=0.6, high=1.0, more=0.02, less=0.7, same=0.28)],
    ),
    "A block fell apart in the water": addition(
        place("B"), place("A", _FAILS, assurance=0.0), groups=[group("A", fell_apart=1), group("B")],
        limits=[limit("A", rule="not met", assurance=0.0)],
    ),
    "Blocks of both recipes fell apart": addition(
        place("A", _FAILS, assurance=0.0), place("B", _FAILS, assurance=0.0),
        groups=[group("A", fell_apart=2), group("B", fell_apart=1)],
    ),
    "One reading is far from the others": addition(
        place("A"), place("B"), straying=(Straying("A", SOAKED.name, 2.3),)
    ),
    "The least stabiliser: less fails": series(place("c6"), place("c8"), place("c4", _FAILS, assurance=0.0)),
    "The least stabiliser: less is open": series(place("c8"), place("c6"), place("c4", _OPEN, assurance=0.85)),
    "The least stabiliser: nothing is known of less": series(
        place("c6"), place("c8"), place("c4", _OPEN, assurance=None)
    ),
    "The least stabiliser: the leanest tested is enough": series(place("c4"), place("c6"), place("c8")),
    "The least stabiliser: one recipe alone was tested": trial(
        "least stabiliser", SERIES[:1], groups=[group("c4")], order=[place("c4")]
    ),
    "The least stabiliser: none is shown to pass": series(
        *(place(one.label, _OPEN, assurance=0.7) for one in reversed(SERIES))
    ),
    "The least stabiliser: all fail": series(*(place(one.label, _FAILS, assurance=0.0) for one in SERIES)),
    "The least stabiliser without a limit": series(
        *(place(one.label, _OPEN, assurance=None) for one in SERIES), **_UNLIMITED
    ),
    "Which soil: the cheapest passes": soils(place("R", cheapest=0.95), place("Y", cheapest=0.04)),
    "Which soil: a dearer one passes": soils(
        place("R", cheapest=0.95), place("Y", _FAILS, cheapest=0.04), recipes=[recipe("R", cost="0.40"), SOILS[1]]
    ),
    "Which soil: no price is known": soils(
        place("R"), place("Y"), recipes=[recipe("R"), recipe("Y", soil="yellow clay")]
    ),
    "Which soil: one soil alone was tested": trial("which soil", SOILS[:1], groups=[group("R")], order=[place("R")]),
    "Which soil: none passes": soils(place("R", _FAILS, assurance=0.0), place("Y", _FAILS, assurance=0.0)),
    "Which soil: none is shown to pass": soils(place("R", _OPEN, assurance=0.7), place("Y", _OPEN, assurance=0.4)),
    "Which soil without a limit: one is stronger": soils(
        *(place(label, _OPEN, assurance=None) for label in "RY"), **_UNLIMITED,
        pairs=[pair("R", "Y", ratio=0.5, low=0.4, high=0.6, more=0, less=1, same=0)],
    ),
    "Which soil without a limit: they are not told apart": soils(
        *(place(label, _OPEN, assurance=None) for label in "RY"), **_UNLIMITED,
        pairs=[pair("R", "Y", ratio=0.9, low=0.7, high=1.1, more=0.1, less=0.4, same=0.5)],
    ),
    "A code is passed": code(place("A")),
    "A code is passed with more certainty than can be shown": code(place("A", assurance=0.9999)),
    "A code is passed with too few blocks": code(
        place("A"), groups=[group("A", readings=3)],
        limits=[limit("A", "rule dry"), limit("A", rule="too few", counted=3)],
    ),
    "A code is passed with too few blocks dry and soaked": code(
        place("A"), groups=[group("A", DRY, readings=3), group("A", readings=3)],
        limits=[limit("A", "rule dry", rule="too few", counted=3), limit("A", rule="too few", counted=3)],
    ),
    "A code asks for two ages": replace(
        code(place("A"), groups=[group("A"), group("A", LATER)], asked=(replace(LIMITS[1], condition=LATER.name),)),
        conditions=(SOAKED, LATER),
    ),
    "A code: no soaked block was crushed": code(
        place("A", _OPEN, assurance=None), groups=[group("A", DRY)],
        limits=[limit("A", "rule dry"), limit("A", rule="no readings", assurance=None, counted=0)],
    ),
    "A code: the press stopped below the limit": code(
        place("A", _OPEN, assurance=0.7), groups=[group("A", held=5)],
        limits=[limit("A", "rule dry"), limit("A", rule="cannot tell", assurance=0.7)],
        tallies=(Tally("A", SOAKED.name, 1.8),),
    ),
    "A code: the weakest block is below the limit": code(
        place("A", _FAILS, assurance=0.01), limits=[limit("A", rule="not met", assurance=0.01)], asked=(LIMITS[1],),
        tallies=(Tally("A", SOAKED.name, lowest_mpa=1.6, mean_mpa=1.9),),
    ),
    "A code: the mean is below the limit": code(
        place("A", _FAILS, assurance=0.01), limits=[limit("A", rule="not met", assurance=0.01)],
        asked=(replace(LIMITS[1], statistic="mean"),), tallies=(Tally("A", SOAKED.name, lowest_mpa=1.6, mean_mpa=1.9),),
    ),
    "A code: two recipes fail": code(
        place("A", _FAILS, assurance=0.0), place("B", _FAILS, assurance=0.0), recipes=(NATIVE, SANDY),
        groups=[group("A"), group("B")],
    ),
    "A code: the nearest recipe is open": code(place("A", _OPEN, assurance=0.8)),
    "No code was chosen": code(place("A", _OPEN, assurance=None), **_UNLIMITED),
    "No block was crushed": trial("meets code", [NATIVE, SANDY]),
    "The soil alone, without stabiliser, passes": code(place("A"), recipes=(replace(NATIVE, doses=()),)),
    "One batch, no price, no calibration, a test that went wrong": code(
        place("A"), recipes=(replace(NATIVE, batches=1, cost=None),), calibrated=False,
        tallies=(Tally("A", SOAKED.name, None, spoiled=1, lost=2),),
    ),
}  # fmt: skip


def said(title: str) -> Answer:
    """Return the answer of a situation."""
    return answer(SITUATIONS[title])
