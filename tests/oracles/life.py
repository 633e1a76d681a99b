"""Part lives by other people's implementations: random data sets and what they make of them, as JSON.

The Rust tests read this, do the same with their own code and compare. Every set is drawn from a stated seed.
"""

import json
import warnings

import numpy as np
from lifelines import KaplanMeierFitter, WeibullFitter
from relife.lifetime_models import Weibull as RelifeWeibull
from relife.policies import AgeReplacementPolicy
from scipy import integrate, optimize, stats
from surpyval import Weibull as SurpyvalWeibull

warnings.filterwarnings("ignore")


def draw(seed, count, late):
    """Lives in hours: (entered, left, failed). Those that ended before anybody watched are not seen."""
    rng = np.random.default_rng(seed)
    eta, beta = rng.uniform(3_000, 12_000), rng.uniform(0.8, 4.0)
    lives = []
    while len(lives) < count:
        age = eta * rng.weibull(beta)
        taken_out = eta * rng.uniform(0.3, 1.6)
        entered = eta * rng.uniform(0, 0.8) if late and rng.random() < 0.5 else 0.0
        left = min(age, taken_out)
        if left > entered:
            lives.append((entered, left, bool(age <= taken_out)))
    return lives


def columns(lives):
    entered, left, failed = (np.array(column) for column in zip(*lives))
    return entered, left, failed.astype(bool)


def by_lifelines(lives):
    entered, left, failed = columns(lives)
    fitted = WeibullFitter().fit(left, failed, entry=entered)
    variance = fitted.variance_matrix_.to_numpy()
    return {
        "eta": fitted.lambda_,
        "beta": fitted.rho_,
        "eta_se": variance[0, 0] ** 0.5,
        "beta_se": variance[1, 1] ** 0.5,
        "covariance": variance[0, 1],
        "log_likelihood": fitted.log_likelihood_,
    }


def by_surpyval(lives):
    entered, left, failed = columns(lives)
    late = {"tl": entered} if entered.any() else {}
    fitted = SurpyvalWeibull.fit(left, c=(~failed).astype(int), **late)
    return {"eta": float(fitted.params[0]), "beta": float(fitted.params[1])}


def by_relife(lives):
    entered, left, failed = columns(lives)
    # relife starts its search near 1, so in a unit of about a life.
    unit = left.mean()
    fitted = RelifeWeibull().fit(left / unit, event=failed, entry=entered / unit)
    shape, rate = (float(figure) for figure in fitted.get_params())
    return {"eta": unit / rate, "beta": shape}


def by_scipy(lives):
    """Only for lives watched from new."""
    _, left, failed = columns(lives)
    data = stats.CensoredData(uncensored=left[failed], right=left[~failed])
    beta, _, eta = stats.weibull_min.fit(data, floc=0)
    return {"eta": float(eta), "beta": float(beta)}


def fits(late):
    for seed in range(8):
        lives = draw(seed + 100 * late, 20 + 15 * seed, late)
        entry = {
            "seed": seed,
            "lives": lives,
            "lifelines": by_lifelines(lives),
            "surpyval": by_surpyval(lives),
            "relife": by_relife(lives),
        }
        if not late:
            entry["scipy"] = by_scipy(lives)
        yield entry


def curves():
    for seed in range(6):
        # Whole hundreds of hours, so that ages are tied.
        lives = [
            (100.0 * (entered // 100), 100.0 * (left // 100 + 1), failed)
            for entered, left, failed in draw(seed + 500, 60, late=seed % 2 == 1)
        ]
        entered, left, failed = columns(lives)
        fitted = KaplanMeierFitter(alpha=0.1).fit(left, failed, entry=entered)
        table = fitted.survival_function_.join(fitted.confidence_interval_)
        steps = [[float(age), *map(float, row)] for age, row in zip(table.index, table.to_numpy())]
        # The table counts those who enter at an age among those at risk there; the estimate does not.
        risk = fitted.event_table["at_risk"] - fitted.event_table["entrance"]
        at_risk = [[float(age), int(count)] for age, count in risk.items()]
        yield {"seed": seed, "lives": lives, "steps": steps, "at_risk": at_risk}


def distributions():
    rng = np.random.default_rng(7)
    for _ in range(12):
        eta, beta = rng.uniform(1_000, 20_000), rng.uniform(0.6, 6.0)
        lives = stats.weibull_min(beta, scale=eta)
        age, more = eta * rng.uniform(0, 1.8), eta * rng.uniform(0.05, 1)
        left, _ = integrate.quad(lambda x: lives.sf(age + x), 0, np.inf, epsabs=0, epsrel=1e-11, limit=500)
        yield {
            "eta": eta,
            "beta": beta,
            "age": age,
            "more": more,
            "survival": lives.sf(age),
            "conditional": lives.sf(age + more) / lives.sf(age),
            "residual": left / lives.sf(age),
            "b10": lives.ppf(0.1),
            "mean": lives.mean(),
            "sd": lives.std(),
        }


def replacements():
    rng = np.random.default_rng(8)
    for number in range(10):
        eta, beta = rng.uniform(2_000, 15_000), rng.uniform(1.3, 6.0)
        planned, failed = 1.0, rng.uniform(1.5, 20.0)
        discount = 0.0 if number % 2 == 0 else rng.uniform(1e-6, 5e-5)
        lives = stats.weibull_min(beta, scale=eta)

        def cost(age):
            alive = lambda x: lives.sf(x) * np.exp(-discount * x)
            fails = lambda x: lives.pdf(x) * np.exp(-discount * x)
            hours, _ = integrate.quad(alive, 0, age, epsabs=0, epsrel=1e-11)
            failures, _ = integrate.quad(fails, 0, age, epsabs=0, epsrel=1e-11)
            return (failed * failures + planned * lives.sf(age) * np.exp(-discount * age)) / hours

        best = optimize.minimize_scalar(cost, bounds=(eta * 1e-3, eta * 3), method="bounded", options={"xatol": 1e-6})
        policy = AgeReplacementPolicy(RelifeWeibull(beta, 1.0))
        relife = policy.compute_optimal_ar(cp=planned, cf=failed, discounting_rate=discount * eta)
        yield {
            "eta": eta,
            "beta": beta,
            "planned": planned,
            "failed": failed,
            "discount": discount,
            "cost": float(best.fun),
            "age": float(best.x),
            "relife": float(np.squeeze(relife)) * eta,
        }


def counts():
    rng = np.random.default_rng(9)
    for _ in range(60):
        mean, share = float(10 ** rng.uniform(-3, 2.5)), float(rng.uniform(0.5, 0.999))
        stock = int(stats.poisson.ppf(share, mean))
        count, tail = int(rng.poisson(mean)), (1 - share) / 2
        hours = float(rng.uniform(1e3, 1e6))
        yield {
            "mean": mean,
            "share": share,
            "stock": stock,
            "covered": stats.poisson.cdf(stock, mean),
            "count": count,
            "low": stats.chi2.ppf(tail, 2 * count) / 2 if count else 0.0,
            "high": stats.chi2.ppf(1 - tail, 2 * count + 2) / 2,
            "hours": hours,
            "mtbf_at_least": 2 * hours / stats.chi2.ppf(share, 2 * count + 2),
        }


def trends():
    rng = np.random.default_rng(10)
    for _ in range(8):
        count, end, b = int(rng.integers(3, 40)), float(rng.uniform(1e3, 5e4)), rng.uniform(0.4, 2.0)
        times = np.sort(end * rng.random(count) ** (1 / b))
        laplace = (times.mean() - end / 2) / (end / np.sqrt(12 * count))
        handbook = 2 * np.log(end / times).sum()
        sides = stats.chi2.cdf(handbook, 2 * count), stats.chi2.sf(handbook, 2 * count)
        yield {
            "times": times.tolist(),
            "end": end,
            "laplace": laplace,
            "laplace_probability": 2 * stats.norm.sf(abs(laplace)),
            "handbook": handbook,
            "handbook_probability": 2 * min(sides),
        }


def lines():
    rng = np.random.default_rng(11)
    for _ in range(6):
        count = int(rng.integers(3, 30))
        x = np.sort(rng.uniform(0, 9_000, count))
        y = 12.0 - 4e-4 * x + rng.normal(0, 0.3, count)
        line = stats.linregress(x, y)
        reach = stats.t.ppf(0.95, count - 2) * line.stderr
        yield {
            "points": list(zip(x.tolist(), y.tolist())),
            "slope": line.slope,
            "intercept": line.intercept,
            "slope_sd": line.stderr,
            "intercept_sd": line.intercept_stderr,
            "r_squared": line.rvalue**2,
            "slope_low": line.slope - reach,
            "slope_high": line.slope + reach,
        }


print(
    json.dumps(
        {
            "censored": list(fits(late=False)),
            "truncated": list(fits(late=True)),
            "curves": list(curves()),
            "distributions": list(distributions()),
            "replacements": list(replacements()),
            "counts": list(counts()),
            "trends": list(trends()),
            "lines": list(lines()),
        },
        default=float,
    )
)
