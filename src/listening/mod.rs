//! Listening tests: what people answered on one listening page, merged.
//!
//! In: files of results that pages save. Out: scores with their probabilities, strengths and intervals. It knows nothing of sound.

mod answers;
mod merged;
mod odds;

pub(crate) use answers::{Kind, Page, Results, read};
pub(crate) use merged::{Merged, Preferences, RESAMPLES, Score, Share, merge};
pub use odds::{as_far, at_least, holm, over_average, strengths};
