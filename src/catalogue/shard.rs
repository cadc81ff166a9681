//! Shares of a plan, for machines that work side by side.

use std::ops::Range;
use std::str::FromStr;

use super::plan::Plan;

/// The K-th of N shares, counted from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Shard {
    number: u32,
    of: u32,
}

/// The most shares.
pub(crate) const MOST: u32 = 100_000;

impl Shard {
    /// The share of an index, of which the first is `base`.
    ///
    /// # Errors
    /// In a few words: an index outside of the shares; no shares or too many.
    pub(crate) fn new(index: u32, of: u32, base: u32) -> Result<Shard, String> {
        if !(1..=MOST).contains(&of) {
            return Err(format!("there are 1 to {MOST} shards"));
        }
        match index.checked_sub(base) {
            Some(number) if number < of => Ok(Shard { number, of }),
            _ => Err(format!("shard {index} is not among {base} to {}", base + of - 1)),
        }
    }

    /// Where its entries stand in the order of a plan. Shares follow one another, so that what shares a kit stays together, and
    /// take the same work as nearly as whole entries allow.
    pub(crate) fn within(self, plan: &Plan) -> Range<usize> {
        // In whole ms, which add up to the same everywhere.
        let work = |number: &usize| (plan.entries[*number].work * 1000.0) as u128 + 1;
        let all: u128 = plan.order.iter().map(work).sum();
        let mut before = 0;
        let mut begins = |share: u128, from: usize| {
            let mut at = from;
            while let Some(number) = plan.order.get(at) {
                // An entry belongs to the share in which its middle lies.
                if (2 * before + work(number)) * u128::from(self.of) >= 2 * all * share {
                    break;
                }
                before += work(number);
                at += 1;
            }
            at
        };
        let first = begins(self.number.into(), 0);
        first..begins(u128::from(self.number) + 1, first)
    }
}

/// A share as it is typed: K and N, where K may be the name of a variable that holds the index.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Asked {
    index: String,
    of: u32,
}

impl FromStr for Asked {
    type Err = String;

    fn from_str(text: &str) -> Result<Asked, String> {
        let wrong = "expected K/N, such as 3/8";
        let (index, of) = text.split_once('/').ok_or(wrong)?;
        let of = of.trim().parse().map_err(|_| wrong)?;
        Ok(Asked {
            index: index.trim().to_string(),
            of,
        })
    }
}

impl Asked {
    /// The share that is meant; `variable` gives the value of one of the environment.
    ///
    /// # Errors
    /// In a few words: a variable that is not set or holds no number, and as [`Shard::new`].
    pub(crate) fn shard(&self, base: u32, variable: impl Fn(&str) -> Option<String>) -> Result<Shard, String> {
        let index = match self.index.parse() {
            Ok(index) => index,
            Err(_) => {
                let value = variable(&self.index).ok_or(format!(
                    "`{}` is no number, and no variable of that name is set",
                    self.index
                ))?;
                value
                    .trim()
                    .parse()
                    .map_err(|_| format!("the variable {} is `{value}`, not a number", self.index))?
            }
        };
        Shard::new(index, self.of, base)
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use proptest::prelude::*;

    use super::*;
    use crate::catalogue::plan::Entry;

    fn plan(work: &[f64]) -> Plan {
        let entry = |work: &f64| Entry {
            name: String::new(),
            file: Path::new("").into(),
            kit: None,
            mix: None,
            tempo: None,
            set: Vec::new(),
            lend: false,
            seconds: 0.0,
            work: *work,
        };
        Plan {
            entries: work.iter().map(entry).collect(),
            order: (0..work.len()).collect(),
            broken: Vec::new(),
        }
    }

    proptest! {
        #[test]
        fn shares_take_every_entry_once_and_are_balanced(work in prop::collection::vec(0.0..100.0_f64, 0..60), of in 1u32..12) {
            let plan = plan(&work);
            let shares: Vec<Range<usize>> = (0..of).map(|number| Shard { number, of }.within(&plan)).collect();
            let mut next = 0;
            for share in &shares {
                prop_assert_eq!(share.start, next);
                next = share.end;
            }
            prop_assert_eq!(next, work.len());
            let (all, longest) = (work.iter().sum::<f64>(), work.iter().copied().fold(0.0, f64::max));
            for share in shares {
                let own: f64 = work[share].iter().sum();
                prop_assert!((own - all / f64::from(of)).abs() <= longest + 1.0);
            }
        }
    }

    #[test]
    fn an_index_may_come_from_a_variable_and_from_0_or_1() {
        let asked = |text: &str, base| {
            let variable = |name: &str| (name == "TASK").then(|| " 2".to_string());
            text.parse::<Asked>().and_then(|asked| asked.shard(base, variable))
        };
        assert_eq!(asked("3/8", 1), Ok(Shard { number: 2, of: 8 }));
        assert_eq!(asked("0/8", 0), Ok(Shard { number: 0, of: 8 }));
        assert_eq!(asked("TASK/8", 1), Ok(Shard { number: 1, of: 8 }));
        assert_eq!(asked("TASK/8", 0), Ok(Shard { number: 2, of: 8 }));
        for wrong in ["8/8", "0/0", "NONE/8", "3", "/8", "3/x", "-1/8"] {
            assert!(asked(wrong, 0).is_err(), "{wrong}");
        }
        assert!(asked("0/8", 1).is_err() && asked("9/8", 1).is_err());
    }
}
