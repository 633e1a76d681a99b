"""How many Weibull fits other people's libraries make in a second, on lives that come as JSON on standard input.

Beside the rate: how far their figures lie from those that came with the lives, at the most. A fit that fails counts as made, and as
failed.
"""

import json
import sys
import time
import warnings

import numpy as np
from lifelines import WeibullFitter
from surpyval import Weibull

warnings.filterwarnings("ignore")

AT_LEAST_S = 2.0


def by_lifelines(entered, left, failed):
    fitted = WeibullFitter().fit(left, failed, entry=entered if entered.any() else None)
    return fitted.lambda_, fitted.rho_


def by_surpyval(entered, left, failed):
    late = {"tl": entered} if entered.any() else {}
    return tuple(Weibull.fit(left, c=(~failed).astype(int), **late).params)


def measure(fit, sets, fitted):
    furthest, failures = 0.0, 0
    for lives, ours in zip(sets, fitted):
        try:
            theirs = fit(*lives)
            furthest = max(furthest, *(abs(a / b - 1) for a, b in zip(theirs, ours)))
        except Exception:
            failures += 1
    fits, begun = 0, time.perf_counter()
    while time.perf_counter() - begun < AT_LEAST_S:
        for lives in sets:
            try:
                fit(*lives)
            except Exception:
                pass
            fits += 1
    rate = fits / (time.perf_counter() - begun)
    return {"fits_per_s": rate, "furthest_off": float(furthest), "failed": failures}


kinds = []
for kind in json.load(sys.stdin)["kinds"]:
    sets = [[np.array(column) for column in zip(*lives)] for lives in kind["sets"]]
    kinds.append(
        {
            "kind": kind["kind"],
            "libraries": {
                "lifelines": measure(by_lifelines, sets, kind["fitted"]),
                "surpyval": measure(by_surpyval, sets, kind["fitted"]),
            },
        }
    )
print(json.dumps({"kinds": kinds}))
