"""Jobs for the tests of the strength engine: read from the form of the contract, or drawn at random."""

import math
from dataclasses import replace
from decimal import Decimal
from typing import Any

import numpy as np

from service.trade.strength.censored_readings import Reading, broke, fell_apart, held
from service.trade.strength.estimate import strength
from service.trade.strength.estimate_result import Composition, Group, Limit, Settings, StrengthAnswer
from service.trade.strength.prior import Prior

# The answers of strength.json are of the first model. Where a job has one recipe, one condition and no named mix the
# model of today is that one (docs/model.md), and must agree. The others have several conditions and recipes: there a
# recipe's effect is shared over conditions and scatter differs by recipe, both by design, and the sampler is the judge
# (test_strength_sampler.py). docs/calibration says how far each answer moved.
SPECIAL = {"open-1": False, "open-2": True, "open-3": False, "open-4": False}


def reading_of(given: dict[str, Any]) -> Reading:
    """Return one reading from its keys."""
    if "held_mpa" in given:
        return held(stress_mpa=given["held_mpa"])
    if "broke_mpa" in given:
        return broke(stress_mpa=given["broke_mpa"], graduation_mpa=given.get("graduation_mpa"))
    return fell_apart()


def groups_of(given: list[dict[str, Any]]) -> list[Group]:
    """Return the groups of a job."""
    return [
        Group(
            g["recipe"], g["condition"], tuple(map(reading_of, g["readings"])), g.get("batches"),
            mixes=tuple(one.get("mix") for one in g["readings"]) if "mix" in g["readings"][0] else (),
        )
        for g in given
    ]  # fmt: skip


def settings_of(given: dict[str, Any]) -> Settings:
    """Return the settings of a job."""
    own = {k: given[k] for k in ("assurance", "margin", "scale_uncertainty", "batch_sd") if k in given}
    return Settings(**own, learn_mixes="batch_sd" not in given, prior=Prior(**given.get("prior", {})))


def answer_to(given: dict[str, Any]) -> StrengthAnswer:
    """Return the engine's answer to a job in the form of the contract."""
    shares = {one["recipe"]: Composition(one["share"]) for one in given.get("recipes", [])}
    return strength(
        [replace(group, composition=shares.get(group.recipe)) for group in groups_of(given["groups"])],
        limits=[Limit(**limit) for limit in given.get("limits", [])],
        costs={recipe: Decimal(cost) for recipe, cost in given.get("costs", {}).items()},
        settings=settings_of(given),
    )


def drawn_job(seed: int, *, recipes: int, conditions: int, blocks: int, limits: bool = True) -> dict[str, Any]:
    """Return an invented job: lognormal blocks, a press that some outlive, a gauge with a graduation."""
    chance = np.random.default_rng(seed)
    middle, press = math.exp(chance.normal(math.log(3), 0.4)), math.exp(chance.normal(math.log(5), 0.3))
    groups = []
    for condition in [f"c{number}" for number in range(conditions)]:
        scatter = math.exp(chance.normal(math.log(0.15), 0.4))
        for recipe in [f"r{number}" for number in range(recipes)]:
            strengths = middle * np.exp(chance.normal(0, 0.3) + scatter * chance.normal(size=blocks))
            readings = [
                {"held_mpa": round(press, 2)}
                if strength > press
                else {"broke_mpa": max(0.05, round(strength / 0.05) * 0.05), "graduation_mpa": 0.1}
                for strength in strengths
            ]
            groups.append({"recipe": recipe, "condition": condition, "readings": readings})
    job: dict[str, Any] = {"groups": groups, "scale_uncertainty": 0.02, "margin": 0.1}
    if limits:
        job["limits"] = [
            {"name": "mean", "condition": "c0", "statistic": "mean", "limit_mpa": round(middle, 2), "blocks": 5},
            {"name": "each", "condition": "c0", "statistic": "each", "limit_mpa": round(0.7 * middle, 2), "blocks": 3},
        ]
        job["costs"] = {f"r{number}": f"0.{20 + number}" for number in range(recipes)}
    return job


def apart(got: list[dict[str, Any]], expected: list[dict[str, Any]]) -> list[tuple[str, float]]:
    """Return, for every number of some rows, its name and its distance over the promised tolerance."""
    by_name = {_name(row): row for row in got}
    assert set(by_name) == {_name(row) for row in expected}
    found = []
    for row in expected:
        for key, value in row.items():
            mine = by_name[_name(row)][key]
            if isinstance(value, float):
                chance = key == "assurance" or key.startswith("p_")
                off = abs(mine - value) / 0.005 if chance else abs(mine / value - 1) / 0.005
                found.append((f"{_name(row)} {key}: {mine} against {value}", off))
            else:
                assert mine == value, (_name(row), key)
    return found


def _name(row: dict[str, Any]) -> tuple[str, ...]:
    return tuple(str(row.get(key)) for key in ("recipe", "condition", "name", "a", "b"))


def wild_job(seed: int) -> dict[str, Any]:
    """Return an invented job of two conditions whose blocks now and then read a third or twice of what they should."""
    chance = np.random.default_rng(seed)
    scatter, groups = math.exp(chance.normal(math.log(0.12), 0.6)), []
    for recipe in range(1 + seed % 3):
        level = chance.normal(1.1, 0.6)
        for condition in ("dry", "soaked"):
            readings = []
            for mix in range(1 + seed % 2):
                for mpa in np.exp(level + 0.1 * chance.normal() + scatter * chance.normal(size=4)):
                    off = chance.choice([0.33, 2.0]) if chance.random() < 0.15 else 1.0
                    read = {"broke_mpa": max(0.05, round(float(mpa * off), 1)), "graduation_mpa": 0.1}
                    readings.append(read | {"mix": f"{mix}"})
            groups.append({"recipe": f"r{recipe}", "condition": condition, "readings": readings})
    return {"groups": groups, "scale_uncertainty": 0.02, "margin": 0.1}
