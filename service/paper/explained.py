"""What a result's page and print need beside the numbers: the chart of every reading, and how each number was made."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from markupsafe import Markup

from service.desk.doorway import ShopFacts
from service.desk.results.result_facts import GroupFacts, ReadingFacts, Result
from service.paper.charts import readings_chart, right_edge_mpa
from service.paper.strips import LimitLine, Mark, Readings, Strip
from service.paper.templates import worded
from service.phrase import Phrase
from service.trade.sources import SOURCES, Source
from service.words.numbers_to_text import thousands_parted
from service.words.sentences import page_words, say

# On a screen one chart, however long; on paper as many strips as stand on a page and stay readable.
MANY, ON_PAPER = 1000, 8


@dataclass(frozen=True)
class Formula:
    """How one kind of number is made, and where that comes from."""

    anchor: str
    gives: str
    formula: str
    source: Source


def charts(result: Result, shop: ShopFacts, *, most: int = MANY) -> tuple[Markup, ...]:
    """Return every reading of a result once: in one chart, or in several alike where it has more strips than fit."""
    strips, words = _strips(result, shop), page_words(shop.language)
    # A limit on a corrected strength has no place among stresses as crushed.
    limits = tuple(
        LimitLine(words.get(one.criterion, one.criterion), one.condition, one.limit_mpa)
        for one in result.asked
        if not one.shape
    )
    whole = Readings(
        strips,
        limits,
        units=shop.units_first,
        language=shop.language,
        said=tuple((one.name, worded(one.name, words)) for one in result.conditions),
    )
    whole = replace(whole, right_edge_mpa=right_edge_mpa(whole))
    pieces = [strips[start : start + most] for start in range(0, len(strips), most)]
    with thousands_parted(shop.comma_thousands):
        return tuple(
            # The drawing comes out of an XML writer, which escapes what was typed.
            Markup(readings_chart(_piece(whole, _named_once(piece, whole)), prefix=f"readings-{number}"))
            for number, piece in enumerate(pieces, start=1)
        )


def _named_once(strips: tuple[Strip, ...], whole: Readings) -> tuple[Strip, ...]:
    # A recipe's whole name, where a chart shows it first, is enough; its label leads back to there.
    first = {strip.recipe: strip for strip in reversed(strips)}
    return tuple(
        strip if first[strip.recipe] is strip else replace(strip, recipe=f"{strip.label}, {whole.say('as above')}")
        for strip in strips
    )


def _piece(whole: Readings, strips: tuple[Strip, ...]) -> Readings:
    shown = {strip.condition for strip in strips}
    return replace(whole, strips=strips, limits=tuple(one for one in whole.limits if one.condition in shown))


def _strips(result: Result, shop: ShopFacts) -> tuple[Strip, ...]:
    speak = _speaker(shop)
    names = {one.label: speak(one.name) for one in result.recipes}
    said = {(one.said.recipe, one.said.condition): one for one in result.groups}
    crushed = [one for one in result.readings if one.fate in ("counted", "left out") and _mark(one)]
    keys = dict.fromkeys(_key(one) for one in crushed)
    strips = [_strip(names, key, said.get(key), [one for one in crushed if _key(one) == key]) for key in keys]
    place = {one.name: number for number, one in enumerate(result.conditions)}
    return tuple(sorted(strips, key=lambda strip: place[strip.condition]))


def _speaker(shop: ShopFacts) -> Callable[[Phrase], str]:
    return lambda phrase: say(phrase, language=shop.language, units=shop.units_first, currency=shop.currency)


def _key(reading: ReadingFacts) -> tuple[str, str]:
    return reading.recipe, reading.condition


def _strip(
    names: dict[str, str], key: tuple[str, str], group: GroupFacts | None, readings: list[ReadingFacts]
) -> Strip:
    recipe, condition = key
    said = group.said if group else None
    return Strip(
        recipe=names[recipe],
        label=recipe,
        condition=condition,
        soaked=readings[0].soaked,
        marks=tuple(mark for one in readings if (mark := _mark(one))),
        low_mpa=group.measured(group.said.low_mpa) if group else None,
        median_mpa=said.median_mpa if said and group and group.middle_measured else None,
        # A bar ends where measuring stopped, whatever the model makes of what lies above.
        high_mpa=said.high_mpa if said and group and group.beyond_mpa is None else None,
        measured_to_mpa=group.highest_held_mpa if group else None,
    )


def _mark(reading: ReadingFacts) -> Mark | None:
    crushed = reading.crushed
    if crushed is None:
        return None
    counted = reading.fate == "counted"
    if crushed.outcome == "fell apart":
        return Mark("fell apart", 0.0, counted)
    if crushed.stress is None:
        return None
    return Mark("held" if crushed.outcome == "held" else "broke", crushed.stress.stress_mpa, counted)


def _formula(anchor: str, gives: str, formula: str, source: str) -> Formula:
    return Formula(anchor, gives, formula, SOURCES[source])


FORMULAS = (
    _formula(
        "force",
        "Force, calibrated",
        "intercept + slope × (gauge − shift of its zero since the calibration); least squares of force on gauge",
        "gum-h3",
    ),
    _formula(
        "geometry", "Force, not calibrated", "efficiency × rams × π d² / 4 × (gauge − gauge at rest)", "hydraulic-ram"
    ),
    _formula("stress", "Stress on the face", "force / (length × width of the loaded face)", "stress"),
    _formula("age", "Age", "days of 24 hours from pressing to crushing", "age"),
    _formula(
        "reading",
        "What one block shows",
        "broke: the stress, half a graduation of the gauge either way; held: that stress or more; "
        "fell apart in the water: no strength, and no limit met in that condition",
        "strength-model",
    ),
    _formula(
        "strength",
        "Strength, interval, next block",
        "ln(strength of a block) = recipe + scatter, recipes of one soil resembling each other; the scale of the press "
        "and the difference between batches allowed for; the median of the recipe and its 5 and 95 % points",
        "strength-model",
    ),
    _formula(
        "value",
        "5 % value",
        "the strength that 19 in 20 blocks reach: recipe − 1.6449 scatter, on the log",
        "strength-model",
    ),
    _formula(
        "rule",
        "Rule",
        "the readings as they are; a block that did not break counts as at least its stress, one that fell apart as 0",
        "strength-model",
    ),
    _formula(
        "shape",
        "Stress corrected for shape",
        "stress as crushed × the factor that the rule's table has for height over width (or height and width) of that "
        "very block; the limit is taken at the geometric mean of a recipe's factors where its chance is worked out",
        "own-rule",
    ),
    _formula(
        "assurance",
        "Chance of passing",
        "the probability, given the readings, that the quantity the rule speaks of meets it",
        "strength-model",
    ),
    _formula(
        "bending",
        "Bending strength",
        "3 × force × span / (2 × width × thickness²), the force at midspan, the block's own weight left out",
        "780-cmr-2109.3.1",
    ),
    _formula(
        "absorption",
        "Absorption and uptake",
        "(mass after the water − mass before) / mass before; an absorption only over an oven-dry mass",
        "nmac-14.7.4-adobe",
    ),
    _formula(
        "erosion",
        "Erosion index",
        "drops: pit below 5 mm is 2, below 10 is 3, below 15 is 4, else 5; spray, by what an hour wears off: to 20 mm "
        "is 1, to 50 is 2, to 90 is 3, to 120 is 4, else 5",
        "nzs-4298",
    ),
    _formula(
        "loss",
        "Mass lost",
        "(oven-dry mass before the first cycle − after the last) / mass before; water that cement binds not taken off",
        "d559",
    ),
    _formula(
        "kept",
        "Soaked over dry",
        "ratio of the two medians; the interval from both on the log, taken as apart, without press and batches",
        "strength-model",
    ),
    _formula(
        "stray",
        "Odd reading",
        "two-sided tail of one broken block's strength as foretold from the other blocks, below 1 in 100; at least "
        "two others",
        "own-rule",
    ),
    _formula(
        "grubbs",
        "Grubbs' test",
        "distance of the farthest reading from the mean of all n, in standard deviations, against (n − 1) / √n × "
        "√(t² / (n − 2 + t²)), t two-sided at 5 % / n with n − 2 degrees of freedom; only where every block broke",
        "grubbs",
    ),
    _formula(
        "off",
        "Density against the others",
        "density of a block / median of the other blocks of its batch − 1; remarked on above 3 %, which is common "
        "practice without a published source",
        "computed-here",
    ),
    _formula("pair", "Comparison", "ratio of the two medians; the scale of the press falls out", "strength-model"),
    _formula(
        "density",
        "Dry density",
        "mass when pressed / (1 + moisture of the mix) / (length × width × mean height)",
        "mass-balance",
    ),
    _formula(
        "shares", "Shares", "stabiliser over dry soil = share of dry mix / (1 − all shares of dry mix)", "mass-balance"
    ),
    _formula("cost", "Cost", "dry mass of each material in a block, waste added, × its price", "money"),
    _formula("carbon", "Carbon", "dry mass of each material in a block, waste added, × its factor", "mass-balance"),
    _formula(
        "square",
        "Blocks in a square of wall",
        "1 m² or 1 ft² / (length × height) of the block, or width × height where the wall is nearer as thick as the "
        "block is long; no joints",
        "geometry",
    ),
    _formula(
        "bag",
        "Blocks from a bag",
        "mass in a bag / mass of that stabiliser in a block, waste added; whole blocks",
        "mass-balance",
    ),
    _formula(
        "foot",
        "Load at the bottom of the wall",
        "dry density × g × height + load on the top / thickness",
        "self-weight",
    ),
    _formula("ratio", "Strength over load", "lower 5 % value of a soaked block / load at the bottom", "stress"),
)
