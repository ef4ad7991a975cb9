"""The strength model written from docs/model.md alone, for a general-purpose sampler, and ten varied jobs.

Nothing here knows how the engine works. A point of the sampler holds the shared unknowns, each recipe's own scatter and
levels, and each mix's deviation; every reading is a density or an interval.
"""

import math
from typing import Any

import numpy as np
from scipy import stats
from scipy.special import log_ndtr

DEFAULT = {
    "median_mpa": 3.0, "log_sd": 1.0, "scatter": 0.15, "scatter_log_sd": 0.5, "spread": 0.30, "spread_log_sd": 0.5,
    "off_curve": 0.10, "off_curve_log_sd": 0.5, "own_way": 0.12, "own_way_log_sd": 0.5, "uneven": 0.25,
    "uneven_log_sd": 0.5, "mixes": 0.06, "mixes_log_sd": 0.6, "slope": 1.1, "slope_sd": 0.4, "bend": -0.25,
    "bend_sd": 0.25,
}  # fmt: skip
# Of each job: seed, recipes, conditions, mixes of a recipe (0: not named), blocks in a cell, whether shares are given,
# graduation of the gauge (0: read exactly), and where the press ends.
KEYS = ("seed", "recipes", "conditions", "mixes", "blocks", "shares", "graduation", "press")
# Five dry and six soaked blocks of one mix, one of them far weaker: a job as a small shop has it, which the engine once
# told strengths of ten thousand million MPa, because it sought the mode in units too large.
ONE_WEAK: dict[str, Any] = {
    "groups": [
        {"recipe": "A", "condition": "dry", "readings": [
            {"broke_mpa": mpa, "graduation_mpa": 0.09, "mix": "1"} for mpa in (4.26, 4.50, 4.09, 4.40, 4.61)]},
        {"recipe": "A", "condition": "soaked", "readings": [
            {"broke_mpa": mpa, "graduation_mpa": 0.09, "mix": "1"} for mpa in (3.53, 3.61, 3.79, 3.44, 4.13, 1.05)]},
    ],
    "limits": [{"name": "mean", "condition": "soaked", "statistic": "mean", "limit_mpa": 2.7, "blocks": 5}],
    "costs": {"A": "0.41"}, "scale_uncertainty": 0.005, "margin": 0.1,
}  # fmt: skip
JOBS = tuple(
    dict(zip(KEYS, row, strict=True))
    for row in (
        (1, 3, 1, 0, 4, False, 0.0, 99.0),
        (2, 2, 2, 0, 3, False, 0.1, 99.0),
        (3, 3, 2, 0, 4, False, 0.1, 3.5),
        (4, 1, 2, 0, 5, False, 0.1, 99.0),
        (5, 2, 1, 3, 2, False, 0.0, 99.0),
        (6, 2, 2, 2, 2, False, 0.1, 99.0),
        (7, 4, 1, 0, 3, True, 0.1, 99.0),
        (8, 3, 2, 2, 2, True, 0.1, 4.0),
        (9, 2, 1, 0, 5, False, 0.1, 2.6),
        (10, 5, 1, 0, 1, False, 0.5, 99.0),
    )
)


def drawn(kind: dict[str, Any]) -> dict[str, Any]:
    """Return an invented job of one kind, in the form of the contract."""
    chance = np.random.default_rng([20270301, kind["seed"]])
    middle, sigma = math.log(3) + 0.3 * chance.normal(), 0.15 * math.exp(0.3 * chance.normal())
    shares = [0.04 + 0.02 * r for r in range(kind["recipes"])]
    groups = []
    own = [0.2 * chance.normal() + (1.1 * math.log(share / 0.07) if kind["shares"] else 0.0) for share in shares]
    mix = 0.07 * chance.normal(size=(kind["recipes"], max(1, kind["mixes"])))
    for c in range(kind["conditions"]):
        for r in range(kind["recipes"]):
            level = middle - 0.5 * c + own[r] + 0.1 * chance.normal()
            readings = []
            for b in range(max(1, kind["mixes"])):
                for strength in np.exp(level + mix[r, b] + sigma * chance.normal(size=kind["blocks"])):
                    readings.append(_read(float(strength), kind, b))
            groups.append({"recipe": f"r{r}", "condition": f"c{c}", "readings": readings})
    limits = [
        {"name": "mean", "condition": "c0", "statistic": "mean", "limit_mpa": 2.8, "blocks": 5},
        {"name": "weak", "condition": "c0", "statistic": "characteristic", "limit_mpa": 1.9, "blocks": 5},
        {"name": "each", "condition": f"c{kind['conditions'] - 1}", "statistic": "each", "limit_mpa": 1.6, "blocks": 3},
    ]
    costs = {f"r{r}": f"0.{20 + r}" for r in range(kind["recipes"])}
    job = {"groups": groups, "limits": limits, "costs": costs, "scale_uncertainty": 0.03}
    if kind["shares"]:
        job["recipes"] = [{"recipe": f"r{r}", "share": share} for r, share in enumerate(shares)]
    return job


def _read(strength: float, kind: dict[str, Any], mix: int) -> dict[str, Any]:
    step = kind["graduation"]
    if strength > kind["press"]:
        reading = {"held_mpa": kind["press"]}
    elif step:
        reading = {"broke_mpa": round(max(step, round(strength / step) * step), 6), "graduation_mpa": step}
    else:
        reading = {"broke_mpa": round(strength, 4)}
    return reading | ({"mix": f"m{mix}"} if kind["mixes"] else {})


def heavy(value: np.ndarray, middle: float, sd: float) -> np.ndarray:
    """Return F of docs/model.md."""
    z = (value - middle) / sd
    return np.where(z <= 3.5, -z * z / 2, -(3.5**2) / 2 - 4 * np.log(np.maximum(z, 3.5) / 3.5))


class WholeModel:
    """The log posterior of one job, for many points at once (one row a point)."""

    def __init__(self, job: dict[str, Any]) -> None:
        self.prior = DEFAULT | job.get("prior", {})
        self.job = job
        self.recipes = sorted({group["recipe"] for group in job["groups"]})
        self.conditions = sorted({group["condition"] for group in job["groups"]})
        self.keys = [(group["recipe"], group["condition"]) for group in job["groups"]]
        self.named = any("mix" in one for group in job["groups"] for one in group["readings"])
        self.mixes = sorted(
            {(group["recipe"], one["mix"]) for group in job["groups"] for one in group["readings"] if "mix" in one}
        )
        shares = {one["recipe"]: math.log(one["share"] + 0.005) for one in job.get("recipes", [])}
        self.x = np.array([shares[r] for r in self.recipes]) if shares else None
        if self.x is not None:
            self.x = self.x - self.x.mean()
        self.names = self._names()
        self._readings()

    def _names(self) -> list[str]:
        names = [f"theta {c}" for c in self.conditions] + [f"sigma {c}" for c in self.conditions] + ["tau"]
        names += ["eta"] if len(self.conditions) > 1 else []
        names += ["omega"] if len(self.recipes) > 1 else []
        names += ["beta"] if self.named else []
        if self.x is not None:
            names += ["slope"] + (["bend"] if len(set(self.x)) > 2 else [])
        names += [f"w {r}" for r in self.recipes] if len(self.recipes) > 1 else []
        names += [f"u {r}" for r in self.recipes] if len(self.conditions) > 1 else []
        names += [f"m {r} {c}" for r, c in self.keys]
        return names + [f"d {r} {b}" for r, b in self.mixes]

    def _readings(self) -> None:
        rows = [
            (i, self.mixes.index((r, one["mix"])) if self.named else 0, one)
            for i, (r, group) in enumerate(zip([k[0] for k in self.keys], self.job["groups"], strict=True))
            for one in group["readings"]
        ]
        self.group, self.mix = np.array([row[0] for row in rows]), np.array([row[1] for row in rows])
        half = np.array([one.get("graduation_mpa", 0.0) / 2 for _, _, one in rows])
        read = np.array([one.get("held_mpa", one.get("broke_mpa")) for _, _, one in rows])
        held = np.array(["held_mpa" in one for _, _, one in rows])
        with np.errstate(divide="ignore"):
            self.low = np.log(np.maximum(read - half, 0.0))
        self.high = np.where(held, np.inf, np.log(read + half))
        self.exact = ~held & (half == 0)

    def start(self, chance: np.random.Generator, walkers: int) -> np.ndarray:
        """Return walkers near where the readings lie."""
        middle = np.where(np.isfinite(self.high) & np.isfinite(self.low), (self.low + self.high) / 2, self.low)
        level = {key: float(middle[self.group == i].mean()) for i, key in enumerate(self.keys)}
        p, at = self.prior, {}
        for c in self.conditions:
            at[f"theta {c}"] = float(np.mean([value for (_, d), value in level.items() if d == c]))
            at[f"sigma {c}"] = math.log(p["scatter"])
        at |= {"tau": math.log(0.2), "eta": math.log(p["own_way"]), "omega": math.log(p["uneven"])}
        at |= {"beta": math.log(p["mixes"]), "slope": p["slope"], "bend": p["bend"]}
        at |= {f"m {r} {c}": value for (r, c), value in level.items()}
        row = np.array([at.get(name, 0.0) for name in self.names])
        return row + 0.05 * chance.normal(size=(walkers, len(row)))

    def take(self, at: np.ndarray, name: str) -> np.ndarray:
        """Return one unknown of all points."""
        return at[..., self.names.index(name)]

    def log_scatter(self, at: np.ndarray) -> np.ndarray:
        """Return ln sigma_rc by point and group."""
        rows = [self.take(at, f"sigma {c}") + (self.take(at, f"w {r}") if f"w {r}" in self.names else 0.0)
                for r, c in self.keys]  # fmt: skip
        return np.stack(rows, axis=-1)

    def __call__(self, at: np.ndarray) -> np.ndarray:
        p, total = self.prior, np.zeros(len(at))
        for c in self.conditions:
            total += stats.norm.logpdf(self.take(at, f"theta {c}"), math.log(p["median_mpa"]), p["log_sd"])
            total += heavy(self.take(at, f"sigma {c}"), math.log(p["scatter"]), p["scatter_log_sd"])
        spread = "off_curve" if self.x is not None else "spread"
        total += heavy(self.take(at, "tau"), math.log(p[spread]), p[spread + "_log_sd"])
        for name, key in (("eta", "own_way"), ("omega", "uneven"), ("beta", "mixes")):
            if name in self.names:
                total += stats.norm.logpdf(self.take(at, name), math.log(p[key]), p[key + "_log_sd"])
        for name in ("slope", "bend"):
            if name in self.names:
                total += stats.norm.logpdf(self.take(at, name), p[name], p[name + "_sd"])
        if "slope" in self.names:
            total = np.where(self.take(at, "slope") > 0, total, -np.inf)
        return total + self._levels(at) + self._likelihood(at)

    def _levels(self, at: np.ndarray) -> np.ndarray:
        total, tau = np.zeros(len(at)), np.exp(self.take(at, "tau"))
        several = len(self.conditions) > 1
        for i, r in enumerate(self.recipes):
            curve: np.ndarray | float = 0.0
            if self.x is not None:
                curve = self.take(at, "slope") * self.x[i]
                curve = curve + (self.take(at, "bend") * self.x[i] ** 2 if "bend" in self.names else 0.0)
            if several:
                total += stats.norm.logpdf(self.take(at, f"u {r}"), 0, tau)
            for key in (key for key in self.keys if key[0] == r):
                mean = self.take(at, f"theta {key[1]}") + curve
                own = self.take(at, f"m {r} {key[1]}") - mean
                if several:
                    total += stats.norm.logpdf(own - self.take(at, f"u {r}"), 0, np.exp(self.take(at, "eta")))
                else:
                    total += stats.norm.logpdf(own, 0, tau)
            if f"w {r}" in self.names:
                total += stats.norm.logpdf(self.take(at, f"w {r}"), 0, np.exp(self.take(at, "omega")))
        for r, b in self.mixes:
            total += stats.norm.logpdf(self.take(at, f"d {r} {b}"), 0, np.exp(self.take(at, "beta")))
        return total

    def _likelihood(self, at: np.ndarray) -> np.ndarray:
        level = np.stack([self.take(at, f"m {r} {c}") for r, c in self.keys], axis=-1)[:, self.group]
        if self.mixes:
            level = level + np.stack([self.take(at, f"d {r} {b}") for r, b in self.mixes], axis=-1)[:, self.mix]
        sigma = np.exp(self.log_scatter(at))[:, self.group]
        z_low, z_high = (self.low - level) / sigma, (self.high - level) / sigma
        exact = -(z_low**2) / 2 - np.log(sigma)
        # The chance between two edges, over to the left tail where differences keep their digits.
        turn = z_low + z_high > 0
        a, b = np.where(turn, -z_high, z_low), np.where(turn, -z_low, z_high)
        upper, lower = log_ndtr(b), log_ndtr(a)
        with np.errstate(divide="ignore", invalid="ignore"):
            between = upper + np.log(-np.expm1(lower - upper))
            return np.nan_to_num(np.where(self.exact, exact, between), nan=-np.inf).sum(axis=1)
