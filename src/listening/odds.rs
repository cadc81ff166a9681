//! What answers are worth: exact binomial tests, and the model of paired comparison by R. A. Bradley and M. E. Terry, "Rank
//! analysis of incomplete block designs", Biometrika 39, 1952. `export/page/odds.js` has the same for the page; one file of cases
//! holds both to the same numbers.

/// The chance of exactly `k` of `n`, each coming with chance `p`.
fn exactly(k: usize, n: usize, p: f64) -> f64 {
    let log_factorial = |n: usize| libm::lgamma(n as f64 + 1.0);
    let ways = log_factorial(n) - log_factorial(k) - log_factorial(n - k);
    libm::exp(ways + k as f64 * libm::log(p) + (n - k) as f64 * libm::log1p(-p))
}

fn sum(n: usize, p: f64, wanted: impl Fn(usize) -> bool) -> f64 {
    let chances = (0..=n).filter(|k| wanted(*k)).map(|k| exactly(k, n, p));
    chances.sum::<f64>().min(1.0)
}

/// One-sided: the chance of `k` or more of `n`, each coming with chance `p`.
pub fn at_least(k: usize, n: usize, p: f64) -> f64 {
    sum(n, p, |other| other >= k)
}

/// Two-sided: the chance of any count of `n` that is no likelier than `k`.
pub fn as_far(k: usize, n: usize, p: f64) -> f64 {
    // Equal chances may differ in their last bits.
    let limit = exactly(k, n, p) * (1.0 + 1e-7);
    sum(n, p, |other| exactly(other, n, p) <= limit)
}

/// Adjusts p values for their number (S. Holm, Scandinavian Journal of Statistics 6, 1979).
pub fn holm(ps: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..ps.len()).collect();
    order.sort_by(|a, b| ps[*a].total_cmp(&ps[*b]));
    let mut adjusted = vec![0.0; ps.len()];
    let mut most = 0.0_f64;
    for (at, place) in order.into_iter().enumerate() {
        most = most.max(((ps.len() - at) as f64 * ps[place]).min(1.0));
        adjusted[place] = most;
    }
    adjusted
}

/// What a model of paired comparison makes of preferences.
#[derive(Debug, Clone)]
pub struct Strengths {
    /// True where no finite strengths exist, so that half a preference was added each way to each pair.
    pub added: bool,
    /// The natural logarithm of each strength; together they come to 0.
    pub log: Vec<f64>,
    /// Their covariance, from the information at the maximum.
    pub covariance: Vec<Vec<f64>>,
}

/// Strengths by maximum likelihood: `wins[i][j]` is how often `i` was preferred to `j`, a tie half for each.
pub fn strengths(wins: &[Vec<f64>]) -> Strengths {
    let count = wins.len();
    let added = !connected(wins);
    let more = if added { 0.5 } else { 0.0 };
    let won = |i: usize, j: usize| if i == j { 0.0 } else { wins[i][j] + more };
    let likelihood = |log: &[f64]| {
        let pairs = (0..count).flat_map(|i| (0..count).map(move |j| (i, j)));
        let told = pairs.filter(|(i, j)| won(*i, *j) > 0.0);
        told.map(|(i, j)| won(i, j) * libm::log(ahead(log, i, j))).sum::<f64>()
    };
    // The matrix of all 1/count takes the place of the strengths' sum, which the likelihood leaves open.
    let information = |log: &[f64]| {
        let mut out = vec![vec![1.0 / count as f64; count]; count];
        for (i, j) in (0..count)
            .flat_map(|i| (0..count).map(move |j| (i, j)))
            .filter(|(i, j)| i != j)
        {
            let weight = (won(i, j) + won(j, i)) * ahead(log, i, j) * ahead(log, j, i);
            out[i][i] += weight;
            out[i][j] -= weight;
        }
        out
    };
    let slope = |log: &[f64], i: usize| {
        let against = |j: usize| won(i, j) - (won(i, j) + won(j, i)) * ahead(log, i, j);
        vec![(0..count).filter(|j| *j != i).map(against).sum::<f64>()]
    };
    // Newton's way, by shorter steps where a whole one would lead down.
    let mut log = vec![0.0; count];
    for _ in 0..100 {
        let step = solved(information(&log), (0..count).map(|i| slope(&log, i)).collect());
        let before = likelihood(&log);
        let mut share = 1.0;
        loop {
            let next: Vec<f64> = log
                .iter()
                .zip(&step)
                .map(|(from, step)| from + share * step[0])
                .collect();
            share /= 2.0;
            if likelihood(&next) >= before - 1e-12 || share <= 1e-6 {
                log = next;
                break;
            }
        }
        if step.iter().all(|step| step[0].abs() < 1e-10) {
            break;
        }
    }
    let ones = (0..count).map(|i| (0..count).map(|j| f64::from(u8::from(i == j))).collect());
    let mut covariance = solved(information(&log), ones.collect());
    covariance
        .iter_mut()
        .flatten()
        .for_each(|value| *value -= 1.0 / count as f64);
    Strengths { added, log, covariance }
}

/// The chance that the first of two is preferred.
fn ahead(log: &[f64], i: usize, j: usize) -> f64 {
    1.0 / (1.0 + libm::exp(log[j] - log[i]))
}

/// The chance that one of a log strength is preferred to an average one.
pub fn over_average(log: f64) -> f64 {
    1.0 / (1.0 + libm::exp(-log))
}

/// True where each was preferred, by way of others, to each other: only then has each a finite strength (L. R. Ford, American
/// Mathematical Monthly 64, 1957).
fn connected(wins: &[Vec<f64>]) -> bool {
    let reached = |won: &dyn Fn(usize, usize) -> f64| {
        let mut seen = vec![false; wins.len()];
        let mut left = vec![0];
        while let Some(i) = left.pop() {
            if !std::mem::replace(&mut seen[i], true) {
                left.extend((0..wins.len()).filter(|j| won(i, *j) > 0.0));
            }
        }
        seen.iter().all(|seen| *seen)
    };
    reached(&|i, j| wins[i][j]) && reached(&|i, j| wins[j][i])
}

/// Solves `a x = b` for each column of `b`, by elimination with pivots.
fn solved(mut a: Vec<Vec<f64>>, b: Vec<Vec<f64>>) -> Vec<Vec<f64>> {
    let size = a.len();
    a.iter_mut().zip(b).for_each(|(row, more)| row.extend(more));
    for at in 0..size {
        let pivot = (at..size).max_by(|n, m| a[*n][at].abs().total_cmp(&a[*m][at].abs()));
        a.swap(at, pivot.unwrap_or(at));
        let row = a[at].clone();
        for (_, other) in a.iter_mut().enumerate().filter(|(n, _)| *n != at) {
            let times = other[at] / row[at];
            other
                .iter_mut()
                .zip(&row)
                .for_each(|(value, own)| *value -= times * own);
        }
    }
    let rows = a.into_iter().enumerate();
    rows.map(|(n, row)| row[size..].iter().map(|value| value / row[n]).collect())
        .collect()
}
