"""Makes reference.json: what other programs make of the same data as src/study/.

    pip install lifelines scipy pymannkendall
    python make_reference.py > reference.json

Survival: lifelines. Rates, pooled rates, slopes and the chance of a goal: scipy's distributions and
root finding, on grids far finer than the program's. Trend test: pymannkendall. The runs are made up here, from a seed, but for
the remission times, which are published:

Freireich et al., "The effect of 6-mercaptopurine on the duration of steroid-induced remissions in
acute leukemia", Blood 21 (1963) 699: weeks in remission of the 21 patients who were treated, as
printed in Cox, "Regression models and life-tables", J. R. Stat. Soc. B 34 (1972) 187, table 1. The
curve with its standard errors is printed to three or four digits in Kleinbaum & Klein, Survival
Analysis (Springer), chapter 2, and in Cox & Oakes, Analysis of Survival Data (1984), chapter 4.
"""

import json

import lifelines
import numpy as np
import pymannkendall
import scipy
from lifelines.utils import median_survival_times
from scipy import optimize, stats

REMISSION = [
    (6, 1), (6, 1), (6, 1), (7, 1), (10, 1), (13, 1), (16, 1), (22, 1), (23, 1), (6, 0), (9, 0),
    (10, 0), (11, 0), (17, 0), (19, 0), (20, 0), (25, 0), (32, 0), (32, 0), (34, 0), (35, 0),
]
# As printed: week, chance to be in remission beyond it, its standard error.
PRINTED = [
    (6, 0.857, 0.0764), (7, 0.807, 0.0869), (10, 0.753, 0.0963), (13, 0.690, 0.1068),
    (16, 0.627, 0.1141), (22, 0.538, 0.1282), (23, 0.448, 0.1346),
]


def play(random, attempts, breaks, others, stops):
    """Runs of a player, as (balls, whether a miss ended it)."""
    runs = []
    for _ in range(attempts):
        balls = 0
        while True:
            if random.random() < stops:
                runs.append((balls, 0))
                break
            if random.random() < (breaks if balls % 14 == 0 else others):
                runs.append((balls, 1))
                break
            balls += 1
    return runs


def survival(spans):
    until, ended = zip(*spans)
    fit = lifelines.KaplanMeierFitter().fit(until, ended)
    rows = []
    for ball, row in fit.event_table.iterrows():
        if row["observed"] == 0:
            continue
        chance = float(fit.survival_function_at_times(ball).iloc[0])
        low, high = fit.confidence_interval_survival_function_.loc[ball]
        sigma = chance * float(np.sqrt(fit._cumulative_sq_.loc[ball]))
        last = chance <= 0
        rows.append({
            "ball": int(ball), "at_risk": int(row["at_risk"]), "missed": int(row["observed"]),
            "chance": chance, "sigma": None if last else sigma,
            "low": None if last else float(low), "high": None if last else float(high),
        })
    ends = median_survival_times(fit.confidence_interval_).iloc[0]
    finite = lambda x: None if not np.isfinite(x) else int(x)
    return {
        "spans": [list(span) for span in spans], "rows": rows,
        "median": [finite(fit.median_survival_time_), finite(ends.iloc[0]), finite(ends.iloc[1])],
    }


def rate(missed, faced):
    a, b = missed + 0.5, faced - missed + 0.5
    low = 0.0 if missed == 0 else float(stats.beta.ppf(0.025, a, b))
    high = 1.0 if missed == faced else float(stats.beta.ppf(0.975, a, b))
    return [missed / faced, low, high]


def pooled(places):
    """Each place's chance with the others': weights over mean and likeness by fine quadrature."""
    missed = np.array([m for m, _ in places], float)
    faced = np.array([n for _, n in places], float)
    nodes, heights = np.polynomial.legendre.leggauss(80)
    ln_kappa = np.log(5) + (nodes + 1) / 2 * np.log(200)
    centre = np.log((missed.sum() + 0.5) / ((faced - missed).sum() + 0.5))
    logits = np.linspace(centre - 18, centre + 9, 2701)
    points = []
    for k, height in zip(np.exp(ln_kappa), heights):
        mean = 1 / (1 + np.exp(-logits))
        a, b = mean * k, (1 - mean) * k
        ln = sum(stats.betabinom.logpmf(m, n, a, b) for m, n in places)
        ln = ln + 0.5 * np.log(mean * (1 - mean))
        points += [(x, y, l, height) for x, y, l in zip(a, b, ln)]
    a, b, ln, height = map(np.array, zip(*points))
    weight = height * np.exp(ln - ln.max())
    keep = weight > 1e-13 * weight.max()
    a, b, weight = a[keep], b[keep], weight[keep] / weight[keep].sum()
    rows = []
    for m, n in places:
        below = lambda p: float(np.sum(weight * stats.beta.cdf(p, a + m, b + n - m)))
        ppf = lambda q: optimize.brentq(lambda p: below(p) - q, 1e-12, 1 - 1e-12, xtol=1e-13)
        value = float(np.sum(weight * (a + m) / (a + b + n)))
        rows.append([value, ppf(0.025), ppf(0.975)])
    return rows


def chance(breaks, others, balls):
    """Median and interval of the chance of an attempt: for each chance of a missed break shot the law
    of the other chance is summed up, and the quantile found as a root."""
    (mb, nb), (mo, no) = breaks, others
    b = -(-balls // 14)
    o = balls - b

    def grid(m, n, count):
        x, y = m + 0.5, n - m + 0.5
        middle, sigma = np.log(x / y), np.sqrt(1 / x + 1 / y)
        u = np.linspace(middle - 9 * sigma - 40 / x, middle + 9 * sigma, count)
        ln = x * u - (x + y) * np.logaddexp(0, u)
        return u, np.exp(ln - ln.max())

    (u, wu), (v, wv) = grid(mb, nb, 1500), grid(mo, no, 6000)
    p, q = 1 / (1 + np.exp(-u)), 1 / (1 + np.exp(-v))
    rows = [w * wv / (misses + 13 * q) for w, misses in zip(wu, p)]
    rows = [(np.cumsum(row) - row / 2, row.sum()) for row in rows]
    total = sum(row for _, row in rows)

    def below(ln_chance):
        sum_ = 0.0
        for logit, (up_to, row) in zip(u, rows):
            each = (ln_chance + b * np.logaddexp(0, logit)) / o
            if each >= 0:
                sum_ += row
                continue
            sum_ += row - np.interp(np.log(np.expm1(-each)), v, up_to, left=0, right=row)
        return sum_ / total

    root = lambda share: optimize.brentq(lambda x: below(x) - share, -80, -1e-6, xtol=1e-8)
    return [float(np.exp(root(share))) for share in (0.5, 0.025, 0.975)]


def trend(runs):
    test = pymannkendall.original_test(runs)
    slope, _, low, high = stats.theilslopes(runs, np.arange(len(runs)), 0.95)
    return {
        "runs": runs, "score": int(test.s), "z": float(test.z), "by_luck": float(test.p),
        "tau": float(test.Tau), "slope_in_100": [100 * float(x) for x in (slope, low, high)],
    }


def main():
    random = np.random.default_rng(14)
    runs = play(random, 140, 0.15, 0.07, 0.01)
    few = play(random, 10, 0.2, 0.1, 0.02)
    growing = [int(r) for r in random.geometric(1 / (6 + 0.12 * np.arange(90))) - 1]
    level = [int(r) for r in random.geometric(1 / 9, 57) - 1]
    places = [(int(random.binomial(n, c)), int(n)) for n, c in zip(
        (np.array([310, 280, 255, 236, 214, 196, 180, 166, 151, 139, 127, 118, 110])).tolist(),
        [0.11, 0.06, 0.1, 0.08, 0.09, 0.05, 0.07, 0.07, 0.06, 0.08, 0.04, 0.05, 0.03],
    )]
    alike = [(int(random.binomial(n, 0.08)), n) for n in range(40, 14, -2)]
    few_misses = [(0, 8), (0, 8), (2, 7), (0, 5), (0, 5), (0, 5), (0, 5), (1, 5), (0, 4), (0, 4),
                  (0, 4), (1, 4), (0, 3)]
    span = lambda run: (run[0] + 1, 1) if run[1] else (run[0], 0)
    tallies = [((3, 14), (7, 90), 30), ((3, 14), (7, 90), 64), ((40, 300), (260, 3900), 64),
               ((0, 9), (9, 40), 20), ((1, 5), (4, 31), 100)]
    print(json.dumps({
        "made_with": {
            "lifelines": lifelines.__version__, "scipy": scipy.__version__,
            "numpy": np.__version__, "pymannkendall": pymannkendall.__version__,
        },
        "remission": survival(REMISSION) | {"printed": PRINTED},
        "runs": survival([span(run) for run in runs]),
        "few_runs": survival([span(run) for run in few]),
        "rates": [{"missed": m, "faced": n, "rate": rate(m, n)}
                  for m, n in [(0, 12), (3, 40), (7, 7), (812, 9100)]],
        "places": [{"tallies": p, "pooled": pooled(p)} for p in (places, alike, few_misses)],
        "trends": [trend(growing), trend(level)],
        "chances": [{"breaks": b, "others": o, "balls": n, "chance": chance(b, o, n)}
                    for b, o, n in tallies],
    }, indent=1))


main()
