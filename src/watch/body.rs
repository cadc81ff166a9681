//! What the page's server has to send: words, the page, its sound, and sound by hand.

use std::sync::Arc;
use std::time::Duration;

use super::samples::Samples;

/// Bytes that are sent at a time.
const PIECE: usize = 64 << 10;

/// A render as the page shows it.
pub(crate) struct Shown {
    /// Counts renders, so that a page sees that there is a newer one.
    pub number: u64,
    /// The page's HTML.
    pub page: String,
    /// The finished WAV.
    pub sound: Vec<u8>,
}

/// The body of an answer.
pub(super) enum Body {
    Words(String),
    Samples(Samples),
    Page(Arc<Shown>),
    Sound(Arc<Shown>),
}

impl Body {
    /// How many bytes it is.
    pub(super) fn len(&self) -> usize {
        match self {
            Body::Samples(samples) => samples.len(),
            other => other.bytes().len(),
        }
    }

    /// Its bytes, where they lie ready.
    fn bytes(&self) -> &[u8] {
        match self {
            Body::Words(words) => words.as_bytes(),
            Body::Samples(_) => &[],
            Body::Page(shown) => shown.page.as_bytes(),
            Body::Sound(shown) => &shown.sound,
        }
    }

    /// Gives its bytes, piece by piece.
    pub(super) fn each(&self, mut piece: impl FnMut(&[u8]) -> std::io::Result<()>) -> std::io::Result<()> {
        match self {
            Body::Samples(samples) => samples.each(piece),
            other => other.bytes().chunks(PIECE).try_for_each(&mut piece),
        }
    }

    /// What making it took, for whoever measures (W3C, Server Timing); nothing where that was not measured.
    pub(super) fn timing(&self) -> String {
        let Body::Samples(samples) = self else {
            return String::new();
        };
        let stage = |(name, took): &(&str, Duration)| format!("{name};dur={:.2}", took.as_secs_f64() * 1e3);
        let stages: Vec<String> = samples.took.iter().map(stage).collect();
        format!("Server-Timing: {}\r\n", stages.join(", "))
    }
}
