"""What answers in listening tests are worth, as scipy computes it, kept as JSON beside this script.

    paired.py write     computes and writes the values
    paired.py check     computes them and compares them with what is kept

Exact binomial tests by scipy.stats; Holm's adjustment by its definition; strengths of paired comparison by minimising the
likelihood of R. A. Bradley and M. E. Terry, Biometrika 39, 1952, with scipy.optimize, which goes another way than Newton's.

One table is published with its strengths: seven baseball teams of the American League, 1987, in A. Agresti, "Categorical Data
Analysis", 2nd edition, 2002, section 10.6 [memory]: how often the team of a row won against that of a column.
"""

import json
import sys
from pathlib import Path

import numpy as np
from scipy.optimize import minimize
from scipy.special import log_expit
from scipy.stats import binomtest

HERE = Path(__file__).resolve().parent
TEAMS = "Milwaukee Detroit Toronto NewYork Boston Cleveland Baltimore".split()
WON = [
    [0, 7, 9, 7, 7, 9, 11],
    [6, 0, 7, 5, 11, 9, 9],
    [4, 6, 0, 7, 7, 8, 12],
    [6, 8, 6, 0, 6, 7, 10],
    [6, 2, 6, 7, 0, 7, 12],
    [4, 4, 5, 6, 6, 0, 6],
    [2, 4, 1, 3, 1, 7, 0],
]
# The published logarithms of their strengths against Baltimore's, and standard errors.
PUBLISHED = [1.581, 1.436, 1.294, 1.248, 1.108, 0.684, 0.0]
PUBLISHED_ERRORS = [0.343, 0.340, 0.337, 0.336, 0.334, 0.332, 0.0]


def strengths(wins):
    """Log strengths that come to 0 together, and their standard errors, of tables in which all are connected."""
    wins = np.array(wins, float)
    count = len(wins)

    def loss(log):
        return -(wins * log_expit(log[:, None] - log[None, :])).sum()

    found = minimize(loss, np.zeros(count), method="BFGS", options={"gtol": 1e-10}).x
    found -= found.mean()
    chance = 1 / (1 + np.exp(found[None, :] - found[:, None]))
    weight = (wins + wins.T) * chance * (1 - chance)
    np.fill_diagonal(weight, 0)
    covariance = np.linalg.pinv(np.diag(weight.sum(axis=1)) - weight)
    return found, np.sqrt(np.diag(covariance)), covariance


def holm(ps):
    """Each p times the number of hypotheses that are left, in rising order, none below the one before it."""
    order = np.argsort(ps, kind="stable")
    out = np.empty(len(ps))
    out[order] = np.minimum(1, np.maximum.accumulate(np.array(ps)[order] * np.arange(len(ps), 0, -1)))
    return out.tolist()


def compute():
    counts = [(n, k) for n in (1, 5, 10, 16, 33, 60) for k in range(0, n + 1, max(1, n // 10))]
    binomial = [
        {
            "k": k,
            "n": n,
            "at_least": binomtest(k, n, 0.5, alternative="greater").pvalue,
            "as_far": binomtest(k, n, 0.5).pvalue,
        }
        for n, k in counts
    ]
    chance = np.random.default_rng(1952)
    tables = [WON]
    for count, rounds in ((2, 20), (3, 6), (4, 12), (8, 9)):
        table = np.zeros((count, count))
        for i in range(count):
            for j in range(i):
                ties = int(chance.integers(0, 3))
                won = int(chance.integers(1, rounds - ties))
                table[i, j], table[j, i] = won + ties / 2, rounds - ties - won + ties / 2
        tables.append(table.tolist())
    # Nobody preferred the last one: half a preference is added each way to each pair.
    lopsided = [[0, 3, 4], [1, 0, 4], [0, 0, 0]]
    models = []
    for table in tables + [lopsided]:
        added = table is lopsided
        more = 0.5 * (1 - np.eye(len(table))) if added else 0
        log, errors, _ = strengths(np.array(table) + more)
        models.append({"wins": table, "added": added, "log": log.tolist(), "errors": errors.tolist()})
    ps = [[0.01], [0.01, 0.04, 0.03, 0.005], [0.5, 0.5, 0.02], [0.2, 0.9, 0.9, 0.001, 0.02]]
    return {"binomial": binomial, "models": models, "holm": [{"p": p, "adjusted": holm(p)} for p in ps]}


def published():
    """How far apart the published strengths and ours are at most."""
    log, _, covariance = strengths(WON)
    base = len(WON) - 1
    errors = [np.sqrt(covariance[i, i] + covariance[base, base] - 2 * covariance[i, base]) for i in range(base)] + [0]
    apart = [abs(log - log[base] - PUBLISHED).max(), abs(np.array(errors) - PUBLISHED_ERRORS).max()]
    assert max(apart) < 6e-4, (log - log[base], errors)
    return apart


def main(what):
    path = HERE / "paired.json"
    print("strengths and errors as published, farthest apart by %.1e and %.1e" % tuple(published()))
    values = json.loads(json.dumps(compute()))
    if what == "write":
        path.write_text(json.dumps(values, separators=(",", ":")) + "\n")
        return 0
    kept = json.loads(path.read_text())

    def apart(one, other):
        if isinstance(one, dict):
            return max([float(one.keys() != other.keys())] + [apart(one[key], other[key]) for key in one])
        if isinstance(one, list):
            return max([float(len(one) != len(other))] + [apart(*pair) for pair in zip(one, other)])
        return abs(float(one) - float(other))

    worst = apart(values, kept)
    print(f"paired     {'agrees' if worst < 1e-6 else 'DIFFERS'} (farthest apart by {worst:.1e})")
    return 0 if worst < 1e-6 else 1


if __name__ == "__main__":
    if sys.argv[1:] not in (["write"], ["check"]):
        sys.exit(__doc__)
    sys.exit(main(sys.argv[1]))
