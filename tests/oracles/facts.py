"""What other people's libraries make of one ship's lives, counts and spares, which come as JSON on standard input.

The Rust tests put the same figures into a ship folder as facts and read the program's answers. Limits are taken on the logarithmic
scale, as the program does: x / exp(z s) to x exp(z s), s the standard error that lifelines gives, divided by x.
"""

import json
import sys
import warnings

import numpy as np
from lifelines import WeibullFitter
from relife.lifetime_models import Weibull as RelifeWeibull
from relife.policies import AgeReplacementPolicy
from scipy import optimize, stats

warnings.filterwarnings("ignore")
asked = json.load(sys.stdin)


def lives(asked):
    left, failed = (np.array(column) for column in zip(*asked["lives"]))
    failed = failed.astype(bool)
    # About 1, where the searches start.
    unit = left.mean()
    life = left / unit
    fitted = WeibullFitter().fit(life, failed)
    # lifelines stops a few hundred-thousandths short of the top: the figures themselves are the root of the likelihood's slope.
    slope = lambda b: (life**b * np.log(life)).sum() / (life**b).sum() - 1 / b - np.log(life[failed]).mean()
    shape = optimize.brentq(slope, 0.1, 50, xtol=1e-14)
    scale = unit * ((life**shape).sum() / failed.sum()) ** (1 / shape)
    variance = fitted.variance_matrix_.to_numpy()
    z = stats.norm.ppf((1 + asked["confidence"]) / 2)
    around = lambda best, relative: [best / np.exp(z * relative), best * np.exp(z * relative)]
    of = stats.weibull_min(shape, scale=scale)
    policy = AgeReplacementPolicy(RelifeWeibull(shape, 1.0))
    cheapest = policy.compute_optimal_ar(cp=1.0, cf=asked["cost_ratio"], discounting_rate=0.0)
    age, more = asked["age"], asked["more"]
    return {
        "scale": scale,
        "scale_limits": around(scale, variance[0, 0] ** 0.5 / fitted.lambda_),
        "shape": shape,
        "shape_limits": around(shape, variance[1, 1] ** 0.5 / fitted.rho_),
        "b10": of.ppf(0.1),
        "median": of.ppf(0.5),
        "reaches": of.sf(asked["limit"]),
        "lives_on": of.sf(age + more) / of.sf(age),
        "cheapest": float(np.squeeze(cheapest)) * scale,
    }


def stock(row):
    mean = row["failures"] / row["watched"] * row["use"] * row["days"]
    tail = (1 - row["sure"]) / 2
    low = stats.chi2.ppf(tail, 2 * row["failures"]) / 2 if row["failures"] else 0.0
    high = stats.chi2.ppf(1 - tail, 2 * (row["failures"] + 1)) / 2
    return {
        "early": int(stats.poisson.ppf(row["sure"], mean)),
        "at_most": int(stats.poisson.ppf(row["sure"], high * mean / row["failures"])) if row["failures"] else None,
        "covered": stats.poisson.cdf(row["aboard"], mean),
        "low": low / row["watched"],
        "high": high / row["watched"],
    }


print(
    json.dumps(
        {
            "lives": lives(asked) if "lives" in asked else None,
            "stock": [stock(row) for row in asked.get("stock", [])],
        },
        default=float,
    )
)
