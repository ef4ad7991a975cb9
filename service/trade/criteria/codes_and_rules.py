"""Rules for strength as data, published or the shop's own, and what the engine is asked on their behalf."""

import hashlib
import math
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path
from typing import Any, Literal, cast, get_args

from service.errors import Invalid
from service.phrase import Phrase
from service.trade.block.shape_factors import SHAPE_NAMES, ShapeFactor, needs_reading
from service.trade.block.test_conditions import Condition, State
from service.trade.criteria.durability_limits import PSI_MPA, Demand, demand_of
from service.trade.sources import SOURCES
from service.trade.strength.estimate_result import CharacteristicBy, Limit, Statistic

Standing = Literal["seen", "second-hand", "memory", "own"]

DATA = Path(__file__).with_suffix(".toml")

MPA_IN = {"MPa": 1.0, "kPa": 0.001, "psi": PSI_MPA, "kgf/cm2": 0.0980665}


@dataclass(frozen=True)
class Rule:
    """One demand of a criterion; ``states`` in order of preference, soak and age are the least allowed."""

    name: str
    statistic: Statistic
    limit: float
    unit: str
    states: tuple[State, ...]
    blocks: int
    soak_hours: float | None = None
    age_days: float | None = None

    @property
    def limit_mpa(self) -> float:
        """The limit in MPa."""
        return self.limit * MPA_IN[self.unit]


@dataclass(frozen=True)
class Criterion:
    """A set of demands that belong together, with where they stand and how that was read."""

    key: str
    name: str
    body: str
    edition: str
    clause: str
    source: str
    standing: Standing
    written_for: str
    specimen: str
    orientation: str
    rules: tuple[Rule, ...]
    remarks: tuple[str, ...] = ()
    demands: tuple[Demand, ...] = ()
    shape_factor: ShapeFactor = ""
    characteristic_by: CharacteristicBy = ""

    def decides(self, *, confirmed: bool) -> bool:
        """Whether it may be put to a job: what is from memory, or corrects a strength, only once its text was read."""
        way_unread = self.characteristic_by and self.standing != "own"
        return confirmed or not (self.standing == "memory" or needs_reading(self.shape_factor) or way_unread)

    @property
    def needs_reading(self) -> bool:
        """Whether it stays unconfirmed until the owner notes that he has read the current text."""
        return self.standing in ("second-hand", "memory")

    def judges_tests(self, *, confirmed: bool) -> bool:
        """Whether its limits on other tests than crushing are judged: only of a text that was read."""
        return confirmed or not self.needs_reading

    def as_data(self) -> dict[str, object]:
        """Return it as plain data, fit to be kept as a copy and read again."""
        rules, demands = ([asdict(one) for one in those] for those in (self.rules, self.demands))
        return {**asdict(self), "rules": rules, "demands": demands, "remarks": list(self.remarks)}


def limits_for(criterion: Criterion, *, tested: Iterable[Condition] = ()) -> tuple[Limit, ...]:
    """Return what the engine is asked on behalf of a criterion.

    Each demand is put to the tested condition it may be judged in: the preferred state, then the greatest
    age, then the shortest soak that is long enough. Where no condition fits, the limit stands alone, so that
    the answer says "no readings" rather than nothing.

    Parameters
    ----------
    criterion : Criterion
        Published or own.
    tested : Iterable[Condition]
        Conditions in which the job has or plans blocks.

    Returns
    -------
    tuple[Limit, ...]
        One for each rule, named "criterion: rule".

    Source
    ------
    own-words

    Examples
    --------
    >>> tested = [Condition("soaked", 2, 7), Condition("soaked", 24, 7), Condition("as cured", None, 7)]
    >>> for limit in limits_for(published()["nmac-ceb"], tested=tested):
    ...     print(limit.condition, limit.statistic, round(limit.limit_mpa, 6), limit.blocks)
    as cured, 7 days each 2.068427 5
    soaked 24 h, 7 days each 2.068427 5
    """
    known = tuple(tested)
    return tuple(
        Limit(
            name=f"{criterion.name}: {rule.name}",
            condition=_judged_in(rule, known).name,
            statistic=rule.statistic,
            limit_mpa=rule.limit_mpa,
            blocks=rule.blocks,
            shape=criterion.shape_factor,
            by=criterion.characteristic_by if rule.statistic == "characteristic" else "",
        )
        for rule in criterion.rules
    )


def _judged_in(rule: Rule, tested: Sequence[Condition]) -> Condition:
    fitting = [condition for condition in tested if _fits(rule, condition)]
    if not fitting:
        return Condition(rule.states[0], rule.soak_hours, rule.age_days)
    return min(fitting, key=lambda one: (rule.states.index(one.state), -(one.age_days or 0), one.soak_hours or 0))


def _fits(rule: Rule, condition: Condition) -> bool:
    long_enough = (condition.soak_hours or 0) >= (rule.soak_hours or 0)
    old_enough = rule.age_days is None or (condition.age_days or 0) >= rule.age_days
    return condition.state in rule.states and long_enough and old_enough


def notes(criterion: Criterion, *, confirmed: bool) -> tuple[Phrase, ...]:
    """Return what has to be said wherever a criterion is used.

    Parameters
    ----------
    criterion : Criterion
        Published or own.
    confirmed : bool
        Whether the owner has noted that he has read the current text.

    Returns
    -------
    tuple[Phrase, ...]
        That the bench block is not the unit the rule was written for, and what is unconfirmed.

    Source
    ------
    own-words

    Examples
    --------
    >>> notes(published()["nmac-ceb"], confirmed=False)[1].english
    '{name}: we have not read this standard. Its value is quoted by others.'
    """
    said = [
        Phrase(
            "{name} was written for {written_for}: {specimen}. We tested small blocks. Make and test full-size units "
            "before you rely on it.",
            {
                "name": criterion.name,
                "written_for": Phrase(criterion.written_for),
                "specimen": Phrase(criterion.specimen),
            },
        )
    ]
    if criterion.needs_reading and not confirmed:
        said.append(Phrase(_UNCONFIRMED[criterion.standing], {"name": criterion.name}))
    if criterion.shape_factor:
        said.append(Phrase(_CORRECTED, {"name": criterion.name, "table": SHAPE_NAMES[criterion.shape_factor]}))
    if criterion.demands and not criterion.judges_tests(confirmed=confirmed):
        said.append(Phrase(_NOT_JUDGED, {"name": criterion.name}))
    return (*said, *(Phrase(remark) for remark in criterion.remarks))


_CORRECTED = (
    "For {name} we multiply the stress as crushed by a factor for the shape of the block, by {table}. Both are shown. "
    "Other tables give other factors. The chance of passing leaves out how far the factor may be wrong."
)
_NOT_JUDGED = (
    "{name} also limits other tests than crushing. We do not judge those until the owner has read the standard."
)
_UNCONFIRMED: dict[Standing, str] = {
    "second-hand": "{name}: we have not read this standard. Its value is quoted by others.",
    "memory": "{name}: not checked. Not used in the verdict until the owner has read the standard.",
}


@cache
def published() -> dict[str, Criterion]:
    """Return the published criteria by key.

    Returns
    -------
    dict[str, Criterion]
        As the data file has them, each checked.

    Source
    ------
    nmac-14.7.4, 780-cmr-2109.3.1, xp-p13-901, ars-670-683, nbr-8491, is-1725, sls-1382-1, une-41410, nzs-4298, ks-1070

    Examples
    --------
    >>> published()["ibc-adobe"].rules[1].limit, published()["ibc-adobe"].written_for
    (250.0, 'adobe')
    """
    rows = tomllib.loads(DATA.read_text("utf-8"))["criterion"]
    return {
        row["key"]: read_criterion(
            {**row, "rules": row.get("rule", []), "demands": row.get("demand", [])}, published_only=True
        )
        for row in rows
    }


def file_sha256() -> str:
    """Return the digest of the data file that an owner's note of having read the text refers to.

    Returns
    -------
    str
        64 hexadecimal digits.

    Source
    ------
    own-words

    Examples
    --------
    >>> len(file_sha256())
    64
    """
    return hashlib.sha256(DATA.read_bytes()).hexdigest()


_WORDS = ("key", "name", "body", "edition", "clause", "source", "standing", "written_for", "specimen", "orientation")


def read_criterion(data: Mapping[str, Any], *, published_only: bool = False) -> Criterion:
    """Return a criterion from plain data, refusing a number without a source and a standing.

    Parameters
    ----------
    data : Mapping[str, Any]
        Keys of `Criterion`; `rules` is a list of mappings with the keys of `Rule`.
    published_only : bool
        Whether the source must be one of the published ones; an own rule says in `body` what it rests on.

    Returns
    -------
    Criterion
        Checked throughout.

    Raises
    ------
    Invalid
        With one sentence for each key at fault, dotted below `rules`.

    Source
    ------
    own-words

    Examples
    --------
    >>> read_criterion(published()["ibc-adobe"].as_data()) == published()["ibc-adobe"]
    True
    """
    faults = {key: "Say this in words." for key in _WORDS if not _is_line(data.get(key)) and key not in _MAY_BE_EMPTY}
    standing = data.get("standing")
    if standing not in get_args(Standing) or (published_only and standing == "own"):
        faults["standing"] = "Say how the text was read: seen, second-hand or memory; own for your own rule."
    if standing != "own" and data.get("source") not in SOURCES:
        faults["source"] = "A published number names a source that is listed."
    rows = data.get("rules")
    if not isinstance(rows, list | tuple) or len(rows) > 20 or not (rows or data.get("demands")):
        faults["rules"] = "Give at least one demand and at most twenty."
        rows = ()
    rules = [_rule(row, under=f"rules.{place}", faults=faults) for place, row in enumerate(rows)]
    if len({rule.name for rule in rules if rule}) < sum(rule is not None for rule in rules):
        faults["rules"] = "Give each demand another name."
    remarks = data.get("remarks", ())
    if not isinstance(remarks, list | tuple) or not all(_is_line(remark) for remark in remarks):
        faults["remarks"] = "Give the remarks as a list of lines."
    demands = _demands(data.get("demands", ()), faults=faults)
    ways = {"shape_factor": ShapeFactor, "characteristic_by": CharacteristicBy}
    for key, offered in ways.items():
        if data.get(key, "") not in get_args(offered):
            faults[key] = f"Choose one of {', '.join(get_args(offered)[1:])}, or leave it out."
    if faults:
        raise Invalid("This code or rule cannot be used as it is.", faults)
    return Criterion(
        **{key: str(data.get(key, "")) for key in _WORDS if key != "standing"},
        standing=cast(Standing, standing),
        rules=tuple(rule for rule in rules if rule),
        remarks=tuple(remarks),
        demands=demands,
        shape_factor=data.get("shape_factor", ""),
        characteristic_by=data.get("characteristic_by", ""),
    )


def _demands(rows: object, *, faults: dict[str, str]) -> tuple[Demand, ...]:
    """Return the limits on other tests; a copy kept before there were any has none."""
    if not isinstance(rows, list | tuple) or len(rows) > 20:
        faults["demands"] = "Give at most twenty."
        return ()
    found = [demand_of(row) for row in rows]
    for place, one in enumerate(found):
        if isinstance(one, dict):
            faults.update({f"demands.{place}.{key}".rstrip("."): sentence for key, sentence in one.items()})
    return tuple(one for one in found if isinstance(one, Demand))


_MAY_BE_EMPTY = ("clause", "orientation")


def _is_line(text: object) -> bool:
    return isinstance(text, str) and 0 < len(text.strip()) <= 200


def _rule(row: object, *, under: str, faults: dict[str, str]) -> Rule | None:
    if not isinstance(row, Mapping):
        faults[under] = "Give the demand as keys and values."
        return None
    wrong = {f"{under}.{key}": sentence for key, sentence in _faults_of_rule(row).items()}
    faults.update(wrong)
    if wrong:
        return None
    return Rule(
        name=row["name"],
        statistic=row["statistic"],
        limit=float(row["limit"]),
        unit=row["unit"],
        states=tuple(row["states"]),
        blocks=row["blocks"],
        soak_hours=_or_none(row.get("soak_hours")),
        age_days=_or_none(row.get("age_days")),
    )


def _faults_of_rule(row: Mapping[str, Any]) -> dict[str, str]:
    states = row.get("states")
    states = states if isinstance(states, list | tuple) else ()
    checks = {
        "name": (_is_line(row.get("name")), "Name the demand."),
        "statistic": (row.get("statistic") in get_args(Statistic), "Choose mean, characteristic or each."),
        "limit": (_is_between(row.get("limit"), 0, 100_000), "Give a limit above 0."),
        "unit": (row.get("unit") in MPA_IN, f"Choose one of {', '.join(MPA_IN)}."),
        "states": (bool(states) and all(state in get_args(State) for state in states), "Name the moisture state."),
        "blocks": (_is_count(row.get("blocks")), "Give how many blocks, from 1 to 100."),
        "soak_hours": ((row.get("soak_hours") is not None) == ("soaked" in states), "Give the soak of soaked blocks."),
        "age_days": (row.get("age_days") is None or _is_between(row["age_days"], 0, 3660), "Give an age above 0."),
    }
    wrong = {key: sentence for key, (right, sentence) in checks.items() if not right}
    if row.get("soak_hours") is not None and not _is_between(row["soak_hours"], 0, 10_000):
        wrong["soak_hours"] = "Give the hours under water, above 0."
    return wrong


def _is_between(value: object, least: float, most: float) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and least < value <= most < math.inf


def _is_count(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= 100


def _or_none(value: float | None) -> float | None:
    return None if value is None else float(value)
