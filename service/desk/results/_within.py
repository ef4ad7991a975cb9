"""Added sand and water: more is not always stronger, so what is looked for is a range, and the cheapest share in it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

from service.desk.results._series import Series
from service.phrase import Phrase, Value


@dataclass(frozen=True)
class Within:
    """The round shares of a series: which may pass, and the untested one among them that is worth pressing.

    ``low`` and ``high`` are the ends of the unbroken run of shares that may pass, around the untested one or around the
    cheapest recipe that will do; None where none does. ``chance`` is that the untested share meets every limit.
    """

    share: float | None
    chance: float | None
    reference: str | None
    low: float | None
    high: float | None
    priced: bool


def round_shares(series: Series, step: float) -> tuple[float, ...]:
    """Return the tested shares and the round ones between them, the least first."""
    shares = [share for _, share in series.shares]
    first, last = round(min(shares) / step), round(max(shares) / step)
    between = (round(number * step, 6) for number in range(first, last + 1))
    near = step / 2
    inside = (one for one in between if min(shares) < one < max(shares))
    return tuple(sorted({*shares, *(one for one in inside if all(abs(one - share) >= near for share in shares))}))


def within(
    series: Series,
    chances: Mapping[float, float],
    *,
    wanted: float,
    will_do: Sequence[str],
    costs: Mapping[str, Decimal],
) -> Within:
    """Return the cheapest untested share that may pass where it costs less than every recipe that will do.

    ``chances`` are those of all round shares. A tested share passes where its recipe will do. Where a cost is missing
    the least share counts as the cheapest, for sand is hauled in. Water has no price: another share of it is worth
    pressing only where no recipe will do, and then the likeliest.
    """
    tested = {share: [label for label, one in series.shares if one == share] for _, share in series.shares}
    good = {share: [label for label in labels if label in will_do] for share, labels in tested.items()}
    passing = {one: bool(good[one]) if one in tested else chance >= wanted for one, chance in chances.items()}
    priced = series.varied == "sand" and all(label in costs for label, _ in series.shares)
    price = {share: _cost(series, share, costs) if priced else Decimal(str(share)) for share in chances}
    # The cheapest; of two that cost alike the lesser.
    order = sorted(chances, key=lambda one: (price[one], one))
    reference = next((one for one in order if one in tested and passing[one]), None)
    untested = [one for one in order if one not in tested and passing[one]]
    if series.varied == "water":
        best = None if reference is not None else max(untested, key=lambda one: chances[one], default=None)
    else:
        best = next((one for one in untested if reference is None or price[one] < price[reference]), None)
    low, high = _run(passing, best if best is not None else reference)
    label = good[reference][0] if reference is not None else None
    return Within(best, chances[best] if best is not None else None, label, low, high, priced)


def _run(passing: Mapping[float, bool], around: float | None) -> tuple[float | None, float | None]:
    """Return the ends of the shares that pass without a gap around one of them."""
    if around is None:
        return None, None
    order = sorted(passing)
    place = order.index(around)
    low = high = place
    while low > 0 and passing[order[low - 1]]:
        low -= 1
    while high < len(order) - 1 and passing[order[high + 1]]:
        high += 1
    return order[low], order[high]


def _cost(series: Series, share: float, costs: Mapping[str, Decimal]) -> Decimal:
    """Return what a block costs at a share; cost runs straight between two recipes."""
    for (left, low), (right, high) in pairwise(series.shares):
        if low <= share <= high and high > low:
            part = Decimal(str(round((share - low) / (high - low), 6)))
            return costs[left] + (costs[right] - costs[left]) * part
    return costs[series.shares[-1][0]]


def range_sentences(
    series: Series, found: Within, *, wanted: float, costs: Mapping[str, Decimal], confirm: Phrase
) -> Iterator[Phrase]:
    """Yield what is said of the range: its ends, the share worth pressing and its saving, or the best recipe."""
    name: dict[str, Value] = {"name": series.material}
    if found.low is not None and found.high is not None and found.high > found.low:
        yield Phrase(_RANGE, {**name, "low_share": found.low, "high_share": found.high})
        if series.varied == "water":
            yield Phrase("We count water as free, so more or less of it does not change the cost.")
    if found.share is not None:
        yield from _worth_pressing(series, found, costs, confirm)
    elif found.reference is None:
        yield Phrase(_NONE, {**name, "asked_likely": wanted})
    elif series.varied == "sand":
        share = dict(series.shares)[found.reference]
        told: dict[str, Value] = {**name, "recipe": found.reference, "tested_share": share}
        yield Phrase(_WITHOUT if not share else _CHEAPEST if found.priced else _LEAST, told)


def _worth_pressing(series: Series, found: Within, costs: Mapping[str, Decimal], confirm: Phrase) -> Iterator[Phrase]:
    share = found.share or 0.0
    about: dict[str, Value] = {"about_share": share, "name": series.material}
    dearer_below = found.priced and found.low is not None and found.low < share
    yield Phrase(_MORE if dearer_below else "About {about_share} {name} may be enough.", about)
    yield confirm
    if series.varied == "sand" and not found.priced:
        yield Phrase(
            "Not every price is known, so we name the smallest share of {name} that may be enough.",
            {"name": series.material},
        )
    elif series.varied == "sand" and found.reference is not None:
        saved = costs[found.reference] - _cost(series, share, costs)
        yield Phrase(_SAVES, {**about, "saved_money": saved, "recipe": found.reference})


_RANGE = "Between about {low_share} and {high_share} {name}, blocks may meet every limit."
_MORE = "About {about_share} {name} may be enough. Using less of it would not save money."
_SAVES = "{about_share} {name} would save about {saved_money} a block against recipe {recipe}."
_NONE = "At no share of {name}, tested or between, is it {asked_likely} likely that blocks meet every limit."
# Never "passes": a rule may ask for more blocks of a recipe that is likely enough to pass.
_WITHOUT = "Recipe {recipe}, without {name}, is likely enough to pass."
_CHEAPEST = (
    "Recipe {recipe}, with {tested_share} {name}, is likely enough to pass. "
    "We found no cheaper share that is likely enough to pass."
)
_LEAST = (
    "Recipe {recipe}, with {tested_share} {name}, is likely enough to pass. "
    "We found no smaller share that is likely enough to pass."
)
