//! A recording that was cut into slices, as text: a loop that plays it again from them, and a kit of its drums.
//!
//! - In: cuts, drums, a tempo.
//! - Out: which bars the loop has and where in the recording it begins ([`Fitted`]); a loop file; a kit.toml.
//! - It knows nothing of how slices are made, and of files.

mod fitted;

use std::fmt::Write;

pub(crate) use fitted::{Asked, Fitted};

use crate::loopfile::{Exact, free_marks, syllable_at};
use crate::text::quoted;

/// The choke group of all slices: each stops the one before it.
const GROUP: &str = "slices";
/// What brings a mono recording, which stands 3 dB down on each side, to its own level: 10 log10(2) dB.
const MONO_GAIN: f64 = 3.0103;
/// Digits of a shift: a hundred-thousandth of a count is far less than half a frame at any rate.
const SHIFT_DIGITS: f64 = 1e6;
/// Entries of a bar on one line.
const ON_A_LINE: usize = 6;

/// A drum with its slices: where each is cut, in frames of the recording, and its file.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct SlicedDrum {
    /// What it is called.
    pub name: String,
    /// In the order of time.
    pub slices: Vec<(usize, String)>,
}

/// A recording in slices.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Sliced {
    /// What it is called.
    pub title: String,
    /// Its bars.
    pub fitted: Fitted,
    /// Its rate in Hz.
    pub rate: u32,
    /// True for one channel.
    pub mono: bool,
    /// Its drums.
    pub drums: Vec<SlicedDrum>,
}

impl Sliced {
    /// The loop that plays it again, in the folder of its slices.
    pub(crate) fn loop_file(&self) -> String {
        let Fitted { time, bars, .. } = &self.fitted;
        let mut page = format!(
            "# The recording again, from its slices. At {rate} Hz and this tempo it is the recording to the sample: render it with\n\
             # --rate {rate}. Each slice stops the one before it; where a slower tempo leaves room, it rings on.\n\
             [loop]\ntitle = {}\nkit = \".\"\ntempo = {}\nbars = {bars}\n",
            quoted(&self.title),
            time.tempo,
            rate = self.rate,
        );
        if (time.counts, time.unit) != (4, 4) {
            let _ = writeln!(page, "metre = \"{}/{}\"\nbeat = \"1/4\"", time.counts, time.unit);
        }
        if !self.fitted.repeats {
            page.push_str("ending = \"let ring\"\n");
        }
        for drum in &self.drums {
            self.part(drum, &mut page);
        }
        page.push_str("\n[master]\nceiling = \"off\"\n");
        if self.mono {
            let _ = writeln!(
                page,
                "gain = {MONO_GAIN}  # one channel stands in the middle, 3 dB down on each side"
            );
        }
        page
    }

    /// A drum's parts: one, or more where it has more slices than there are letters.
    fn part(&self, drum: &SlicedDrum, page: &mut String) {
        let letters: Vec<char> = free_marks().collect();
        for (number, slices) in (1..).zip(drum.slices.chunks(letters.len())) {
            let name = match number {
                1 => drum.name.clone(),
                number => format!("{} part {number}", drum.name),
            };
            let marks = slices.iter().zip(&letters);
            let told = marks.clone().map(|((_, file), mark)| match mark.is_ascii() {
                true => format!("{mark} = {}", quoted(stem(file))),
                false => format!("\"{mark}\" = {}", quoted(stem(file))),
            });
            let told: Vec<String> = told.collect();
            let _ = write!(
                page,
                "\n[[part]]\nname = {}\npiece = {}\nchoke = \"{GROUP}\"\ntouch = 0\ntrim = false\nswing = \"off\"\nloose = \"off\"\n\
                 [part.marks]\n{}\n[part.hits]\n",
                quoted(&name),
                quoted(stem(&slices[0].1)),
                told.join("\n"),
            );
            let mut entries: Vec<Vec<String>> = vec![Vec::new(); self.fitted.bars as usize];
            for ((cut, _), mark) in marks {
                let (bar, entry) = self.entry(*cut, *mark);
                if let Some(entries) = entries.get_mut(bar) {
                    entries.push(quoted(&entry));
                }
            }
            for (bars, entries) in runs(&entries) {
                let _ = match entries.is_empty() {
                    true => writeln!(page, "{bars} = \"-\""),
                    false => writeln!(page, "{bars} = [{}]", listed(entries)),
                };
            }
        }
    }

    /// The bar that a slice lies in, counted from 0, and how its hit is counted aloud there.
    fn entry(&self, cut: usize, mark: char) -> (usize, String) {
        let Fitted { time, bars, from, .. } = &self.fitted;
        let counts = i128::from(time.counts);
        let count_seconds = time.bar_seconds() / f64::from(time.counts);
        let at = (cut as i64 - from) as f64 / f64::from(self.rate) / count_seconds;
        let last = i128::from(*bars) * counts - 1;
        let place = nearest(at, last);
        let (count, within) = (place.to_integer(), place.fract());
        let (syllable, _) = syllable_at(within).unwrap_or_default();
        let off = at - *place.numer() as f64 / *place.denom() as f64;
        let percent = libm::round(off * 100.0 * SHIFT_DIGITS) / SHIFT_DIGITS;
        let shift = if percent == 0.0 {
            String::new()
        } else {
            format!(" {percent:+}%")
        };
        let entry = format!("{}{syllable} {mark}{shift}", count % counts + 1);
        ((count / counts) as usize, entry)
    }

    /// What its slices are for other loops: takes of its drums.
    pub(crate) fn kit_toml(&self) -> String {
        let mut page = format!(
            "# The slices of a recording: those of one drum are its takes, for other loops.\n[kit]\ntitle = {}\n",
            quoted(&self.title)
        );
        for drum in &self.drums {
            let files: Vec<String> = drum.slices.iter().map(|(_, file)| quoted(file)).collect();
            let _ = writeln!(
                page,
                "\n[[piece]]\nname = {}\nfiles = [{}]",
                quoted(&drum.name),
                listed(&files)
            );
        }
        page
    }
}

/// The nearest place to a count and its share, counted from 0, that has a syllable; none after the last count's.
fn nearest(at: f64, last: i128) -> Exact {
    let count = (libm::floor(at) as i128).clamp(0, last);
    let places = [(0, 1), (1, 4), (1, 3), (1, 2), (2, 3), (3, 4), (1, 1)];
    let places = places
        .into_iter()
        .map(|(numer, denom)| Exact::new(numer, denom) + count);
    let places = places.filter(|place| place.to_integer() <= last);
    let away = |place: &Exact| (at - *place.numer() as f64 / *place.denom() as f64).abs();
    places.min_by(|a, b| away(a).total_cmp(&away(b))).unwrap_or(Exact::ZERO)
}

/// Bars as they are named, each with what it holds; those that follow one another with nothing in them together.
fn runs(entries: &[Vec<String>]) -> Vec<(String, &[String])> {
    let mut runs: Vec<(usize, usize, &[String])> = Vec::new();
    for (bar, entries) in (1..).zip(entries) {
        match runs.last_mut() {
            Some((_, to, before)) if before.is_empty() && entries.is_empty() => *to = bar,
            _ => runs.push((bar, bar, entries)),
        }
    }
    let named = |(from, to, entries)| match from == to {
        true => (format!("\"{from}\""), entries),
        false => (format!("\"{from}-{to}\""), entries),
    };
    runs.into_iter().map(named).collect()
}

/// Strings as TOML lists them, some on each line where there are many.
fn listed(strings: &[String]) -> String {
    match strings.len() > ON_A_LINE {
        false => strings.join(", "),
        true => {
            let lines = strings
                .chunks(ON_A_LINE)
                .map(|some| format!("\n  {},", some.join(", ")));
            lines.collect::<String>() + "\n"
        }
    }
}

fn stem(file: &str) -> &str {
    file.rsplit_once('.').map_or(file, |(stem, _)| stem)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loopfile::Time;

    fn sliced(cuts: &[usize]) -> Sliced {
        Sliced {
            title: "Quay".into(),
            fitted: Fitted {
                time: Time {
                    tempo: 120.0,
                    beat: Exact::new(1, 4),
                    counts: 4,
                    unit: 4,
                },
                bars: 4,
                from: 0,
                repeats: true,
            },
            rate: 48_000,
            mono: true,
            drums: vec![SlicedDrum {
                name: "kick".into(),
                slices: (1..)
                    .zip(cuts)
                    .map(|(number, cut)| (*cut, format!("kick-{number:02}.wav")))
                    .collect(),
            }],
        }
    }

    #[test]
    fn slices_are_counted_to_the_frame() {
        let page = sliced(&[0, 12_000, 18_007, 96_000 * 3 - 1]).loop_file();
        for line in [
            "c = \"kick-01\"\nh = \"kick-02\"",
            "\"1\" = [\"1 c\", \"1& h\", \"1a i +0.029167%\"]\n\"2-3\" = \"-\"\n\"4\" = [\"1 j -0.004167%\"]",
            "ceiling = \"off\"\ngain = 3.0103",
        ] {
            assert!(page.contains(line), "{line} is not in\n{page}");
        }
    }

    #[test]
    fn what_is_late_in_the_last_bar_stays_in_it() {
        assert_eq!(nearest(15.99, 15), Exact::new(63, 4));
        assert_eq!(nearest(14.99, 15), Exact::new(15, 1));
        assert_eq!(nearest(0.34, 15), Exact::new(1, 3));
    }
}
