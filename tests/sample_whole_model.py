"""Sample the whole strength model with emcee for eleven jobs; the answers go to tests/reference/whole_model.json.

Run as `python -m tests.sample_whole_model`; it takes some minutes. Seeds are the first ones tried.
"""

import itertools
import json
import math
import sys
from importlib.metadata import version
from pathlib import Path
from typing import Any

import emcee
import numpy as np
from scipy import stats

from tests.trade.whole_model import JOBS, ONE_WEAK, WholeModel, drawn

OUT = Path(__file__).parent / "reference" / "whole_model.json"
WALKERS, STEPS, KEPT_EVERY, BLOCKS = 60, 5_000, 4, 10
NOTE = (
    "emcee {emcee}, moves DE 0.7 and stretch 0.3, {walkers} walkers, {steps} steps, a fifth thrown away, on the "
    "model as docs/model.md states it (tests/trade/whole_model.py). Each figure is [value, standard error between "
    "{blocks} blocks of steps]."
)


def figures(job: dict[str, Any], seed: int) -> dict[str, list[float]]:
    """Return every figure of a job with its standard error, by name."""
    model, chance = WholeModel(job), np.random.default_rng(seed)
    # The snooker move of emcee 3.1.6 is left out: on these jobs it settles on another, narrower distribution.
    moves = [(emcee.moves.DEMove(), 0.7), (emcee.moves.StretchMove(), 0.3)]
    sampler = emcee.EnsembleSampler(WALKERS, len(model.names), model, vectorize=True, moves=moves)
    sampler.random_state = np.random.RandomState(seed).get_state()
    sampler.run_mcmc(model.start(chance, WALKERS), STEPS)
    chain = sampler.get_chain(discard=STEPS // 5, thin=KEPT_EVERY)
    return {name: _with_noise(values, figure) for name, values, figure in _asked(model, chain, chance)}


def _with_noise(values: np.ndarray, figure: Any) -> list[float]:
    blocks = [float(figure(block.ravel())) for block in np.array_split(values, BLOCKS)]
    return [float(figure(values.ravel())), float(np.std(blocks, ddof=1) / math.sqrt(BLOCKS))]


def _at(share: float) -> Any:
    return lambda values: np.quantile(values, share)


def _asked(model: WholeModel, chain: np.ndarray, chance: np.random.Generator) -> Any:
    shape, job = chain.shape[:2], model.job
    kappa = job["scale_uncertainty"] * chance.normal(size=shape)
    beta = np.exp(model.take(chain, "beta")) if model.named else np.zeros(shape)
    delta = {r: (0.0 if model.named else 0.05) * chance.normal(size=shape) for r in model.recipes}
    scatter = dict(zip(model.keys, np.moveaxis(np.exp(model.log_scatter(chain)), -1, 0), strict=True))
    mu = {(r, c): model.take(chain, f"m {r} {c}") - kappa - delta[r] for r, c in model.keys}
    for c in model.conditions:
        for share in (0.05, 0.5, 0.95):
            yield f"scatter {c} {share}", model.take(chain, f"sigma {c}"), _at(share)
    for (r, c), level in mu.items():
        following = level + beta * chance.normal(size=shape) + scatter[r, c] * chance.normal(size=shape)
        for share in (0.05, 0.5, 0.95):
            yield f"strength {r} {c} {share}", level, _at(share)
        for share in (0.05, 0.5):
            yield f"characteristic {r} {c} {share}", level - 1.6449 * scatter[r, c], _at(share)
        for share in (0.05, 0.95):
            yield f"next {r} {c} {share}", following, _at(share)
    for (a, c), (b, d) in itertools.combinations(mu, 2):
        if c == d:
            gap = mu[a, c] - mu[b, c]
            for share in (0.05, 0.5, 0.95):
                yield f"ratio {a} {b} {c} {share}", gap, _at(share)
            yield f"more {a} {b} {c}", gap > math.log(1.1), np.mean
    yield from _limits(model, mu, scatter, beta * chance.normal(size=shape))


def _limits(model: WholeModel, mu: Any, scatter: Any, new_mix: np.ndarray) -> Any:
    left: np.ndarray | float = 1.0
    for r in model.recipes:
        together: np.ndarray | float = 1.0
        for limit in model.job["limits"]:
            level, sigma = mu[r, limit["condition"]], scatter[r, limit["condition"]]
            height = math.log(limit["limit_mpa"])
            if limit["statistic"] == "mean":
                held = (level + sigma**2 / 2 >= height).astype(float)
            elif limit["statistic"] == "characteristic":
                held = (level - 1.6449 * sigma >= height).astype(float)
            else:
                held = stats.norm.cdf((level + new_mix - height) / sigma) ** limit["blocks"]
            yield f"limit {limit['name']} {r}", held, np.mean
            together = together * held
        yield f"all {r}", together, np.mean
        yield f"cheapest {r}", left * together, np.mean
        left = left * (1 - together)


def main() -> int:
    """Sample every job and write what came out."""
    note = NOTE.format(emcee=version("emcee"), walkers=WALKERS, steps=STEPS, blocks=BLOCKS)
    cases = []
    jobs: list[tuple[dict[str, Any], dict[str, Any]]] = [(kind, drawn(kind)) for kind in JOBS]
    jobs.append(({"seed": 11, "named": "one weak block"}, ONE_WEAK))
    for kind, job in jobs:
        cases.append({"kind": kind, "inputs": job, "expected": figures(job, kind["seed"])})
        sys.stdout.write(f"job {kind['seed']} of {len(jobs)}\n")
        sys.stdout.flush()
        OUT.write_text(json.dumps({"note": note, "cases": cases}, indent=1) + "\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
