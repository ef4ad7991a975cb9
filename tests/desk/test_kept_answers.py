"""What the engine said is kept under a digest of all that went in, and never served for anything else."""

from dataclasses import replace
from decimal import Decimal

import pytest

from service.desk.results import _engine
from service.desk.results._kept import Kept
from service.trade.strength.censored_readings import broke, held
from service.trade.strength.estimate_result import Composition, Group, Limit, Settings
from service.trade.strength.prior import Prior

READINGS = (broke(stress_mpa=2.4, graduation_mpa=0.1), broke(stress_mpa=2.6), held(stress_mpa=3.0))
GROUPS = (Group("A", "soaked", READINGS, 2), Group("B", "soaked", READINGS[:2], 1))
LIMITS = (Limit("rule", "soaked", "mean", 2.0, 5),)
COSTS = {"A": Decimal("0.30"), "B": Decimal("0.40")}


def first(**changes):
    return replace(GROUPS[0], **changes), GROUPS[1]


CHANGED = {
    "a reading": {"groups": first(readings=(broke(stress_mpa=2.4000001, graduation_mpa=0.1), *READINGS[1:]))},
    "a graduation": {"groups": first(readings=(broke(stress_mpa=2.4, graduation_mpa=0.2), *READINGS[1:]))},
    "broke turned into held": {"groups": first(readings=(held(stress_mpa=2.4), *READINGS[1:]))},
    "one reading more": {"groups": first(readings=(*READINGS, READINGS[0]))},
    "the batches": {"groups": first(batches=3)},
    "the condition": {"groups": first(condition="dry")},
    "the composition": {"groups": first(composition=Composition(0.05))},
    "a factor for shape": {"groups": first(factors=(("en-772-1", (0.8, 0.8, 0.8)),))},
    "a limit": {"limits": (replace(LIMITS[0], limit_mpa=2.1),)},
    "the blocks of a limit": {"limits": (replace(LIMITS[0], blocks=6),)},
    "a price": {"costs": {**COSTS, "A": Decimal("0.31")}},
    "the assurance": {"settings": Settings(assurance=0.9)},
    "the margin": {"settings": Settings(margin=0.2)},
    "the scale": {"settings": Settings(scale_uncertainty=0.01)},
    "the difference between mixes": {"settings": Settings(batch_sd=0.06)},
    "the prior": {"settings": Settings(prior=Prior(scatter=0.14))},
}


@pytest.fixture
def worked(monkeypatch):
    """Count what is worked out, with nothing kept from before."""
    done = []
    engine = _engine.strength

    def counted(groups, **given):
        done.append(groups)
        return engine(groups, **given)

    monkeypatch.setattr(_engine, "strength", counted)
    monkeypatch.setattr(_engine, "_ANSWERS", Kept(most=512))
    return done


def asked(**changes):
    said, refusal = _engine.asked(
        **{"groups": GROUPS, "limits": LIMITS, "costs": COSTS, "settings": Settings(), **changes}
    )
    assert refusal is None
    return said


def test_the_same_question_is_worked_out_once(worked):
    assert asked() is asked(costs=dict(reversed(COSTS.items())))
    assert len(worked) == 1


@pytest.mark.parametrize("changes", CHANGED.values(), ids=CHANGED.keys())
def test_whatever_goes_in_changed_is_worked_out_anew(worked, changes):
    asked()
    said = asked(**changes)
    assert len(worked) == 2
    given = {"groups": GROUPS, "limits": LIMITS, "costs": COSTS, "settings": Settings(), **changes}
    assert said == _engine.strength(**given)


def test_another_engine_is_not_answered_for_by_this_one(worked, monkeypatch):
    asked()
    monkeypatch.setattr(_engine, "ENGINE", "loambook 99")
    asked()
    assert len(worked) == 2


def test_what_was_asked_longest_ago_makes_room(worked, monkeypatch):
    monkeypatch.setattr(_engine, "_ANSWERS", Kept(most=2))
    for assurance in (0.8, 0.85, 0.9, 0.8):
        asked(settings=Settings(assurance=assurance))
    assert len(worked) == 4
