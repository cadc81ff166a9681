// Chance and what answers are worth: even draws, exact binomial tests, paired comparison. `src/listening/odds.rs` has the same in
// Rust; one file of cases holds both to the same numbers.

const CONVINCING = 0.05; // the p below which a score is taken for more than guessing

const odds = {
  /** The natural logarithm of n!. */
  logFactorial(n) {
    let sum = 0;
    for (let i = 2; i <= n; i++) sum += Math.log(i);
    return sum;
  },
  /** The chance of exactly k of n, each coming with chance p. */
  exactly(k, n, p) {
    const ways = odds.logFactorial(n) - odds.logFactorial(k) - odds.logFactorial(n - k);
    return Math.exp(ways + k * Math.log(p) + (n - k) * Math.log(1 - p));
  },
  sum(n, p, wanted) {
    let sum = 0;
    for (let k = 0; k <= n; k++) if (wanted(k)) sum += odds.exactly(k, n, p);
    return Math.min(1, sum);
  },
  /** One-sided: the chance of k or more of n. */
  atLeast: (k, n, p) => odds.sum(n, p, (other) => other >= k),
  /** Two-sided: the chance of any count that is no likelier than k. */
  asFar(k, n, p) {
    const limit = odds.exactly(k, n, p) * (1 + 1e-7); // equal chances may differ in their last bits
    return odds.sum(n, p, (other) => odds.exactly(other, n, p) <= limit);
  },
  /** The fewest of n that are evidence; none where even all of them are not. */
  needed(kind, n) {
    const test = kind === "prefer" ? odds.asFar : odds.atLeast;
    for (let k = Math.ceil(n / 2); k <= n; k++) if (test(k, n, 1 / 2) < CONVINCING) return k;
    return null;
  },
  /** The fewest rounds of which any score is evidence. */
  fewest(kind) {
    let n = 1;
    while (odds.needed(kind, n) === null) n += 1;
    return n;
  },
  /** Adjusts p values for their number (S. Holm, Scandinavian Journal of Statistics 6, 1979). */
  holm(ps) {
    const order = ps.map((_, n) => n).sort((a, b) => ps[a] - ps[b]);
    const out = [];
    let most = 0;
    order.forEach((n, at) => (out[n] = most = Math.max(most, Math.min(1, (ps.length - at) * ps[n]))));
    return out;
  },
  /** An even draw from 0 to n - 1. */
  draw(n) {
    const most = Math.floor(2 ** 32 / n) * n;
    for (;;) {
      const [number] = crypto.getRandomValues(new Uint32Array(1));
      if (number < most) return number % n;
    }
  },
  shuffled(list) {
    const left = [...list];
    return list.map(() => left.splice(odds.draw(left.length), 1)[0]);
  },
  say: (p) => (p < 0.0001 ? "p < 0.0001" : `p = ${p.toPrecision(p < 0.001 ? 1 : 2)}`),

  // ---- Paired comparison: R. A. Bradley and M. E. Terry, Biometrika 39, 1952 ----------------------------------------

  /** True where each version was preferred, by way of others, to each other: only then has each a finite strength. */
  connected(wins) {
    const reached = (from, won) => {
      const seen = new Set([from]);
      for (const i of seen) wins.forEach((_, j) => won(i, j) > 0 && seen.add(j));
      return seen.size === wins.length;
    };
    return reached(0, (i, j) => wins[i][j]) && reached(0, (i, j) => wins[j][i]);
  },

  /** Solves a x = b for each column of b, by elimination with pivots. */
  solved(a, b) {
    const rows = a.map((row, n) => [...row, ...b[n]]);
    const size = rows.length;
    for (let at = 0; at < size; at++) {
      let pivot = at;
      for (let n = at + 1; n < size; n++) if (Math.abs(rows[n][at]) > Math.abs(rows[pivot][at])) pivot = n;
      [rows[at], rows[pivot]] = [rows[pivot], rows[at]];
      for (let n = 0; n < size; n++) {
        if (n === at) continue;
        const times = rows[n][at] / rows[at][at];
        for (let m = at; m < rows[n].length; m++) rows[n][m] -= times * rows[at][m];
      }
    }
    return rows.map((row, n) => row.slice(size).map((value) => value / row[n]));
  },

  /**
   * Strengths by maximum likelihood: `wins[i][j]` is how often i was preferred to j, a tie half for each. Their logarithms come to 0
   * together; `deviation` is the standard error of each. Where no finite strengths exist, half a preference is added each way to each
   * pair, and `added` says so.
   */
  strengths(wins) {
    const count = wins.length;
    const added = !odds.connected(wins);
    const w = wins.map((row, i) => row.map((won, j) => (i === j ? 0 : won + (added ? 0.5 : 0))));
    const ahead = (i, j) => 1 / (1 + Math.exp(log[j] - log[i]));
    const likelihood = () => w.reduce((sum, row, i) => row.reduce((sum, won, j) => (won ? sum + won * Math.log(ahead(i, j)) : sum), sum), 0);
    // Newton's way. The matrix of all 1/count takes the place of the strengths' sum, which the likelihood leaves open.
    const information = () => {
      const out = w.map(() => Array(count).fill(1 / count));
      for (let i = 0; i < count; i++) {
        for (let j = 0; j < count; j++) {
          if (i === j) continue;
          const weight = (w[i][j] + w[j][i]) * ahead(i, j) * ahead(j, i);
          out[i][i] += weight;
          out[i][j] -= weight;
        }
      }
      return out;
    };
    let log = Array(count).fill(0);
    for (let turn = 0; turn < 100; turn++) {
      const slope = w.map((row, i) => [row.reduce((sum, won, j) => sum + won - (w[i][j] + w[j][i]) * (i === j ? 0 : ahead(i, j)), 0)]);
      const step = odds.solved(information(), slope).map(([value]) => value);
      const [before, from] = [likelihood(), log];
      let share = 1;
      do {
        log = from.map((value, n) => value + share * step[n]);
        share /= 2;
      } while (likelihood() < before - 1e-12 && share > 1e-6);
      if (Math.max(...step.map(Math.abs)) < 1e-10) break;
    }
    const ones = w.map((_, i) => w.map((_, j) => (i === j ? 1 : 0)));
    const covariance = odds.solved(information(), ones).map((row) => row.map((value) => value - 1 / count));
    return { added, log, covariance, deviation: covariance.map((row, n) => Math.sqrt(row[n])) };
  },

  /** The chance that one of a log strength is preferred to an average one. */
  overAverage: (log) => 1 / (1 + Math.exp(-log)),
};
