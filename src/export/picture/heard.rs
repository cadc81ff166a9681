//! What was heard in a recording: its waveform in rows, with a name at each onset.

use super::Picture;
use super::drawing::{Drawing, Ink, Mark, fitting};
use super::frame::{COLUMNS, EDGE, Frame, WIDTH, heading};
use super::lettering;
use crate::base::audio::Audio;
use crate::export::outline::columns_of;
use crate::text::count_of;

/// Seconds of a row at the least, and rows at the most.
const SECONDS: f64 = 4.0;
const ROWS: usize = 40;
/// Half a waveform's height, and the lines of names above it.
const HALF: f32 = 34.0;
const LINES: usize = 3;
const LINE: f32 = 13.0;
/// The height of a row.
const ROW: f32 = 2.0 * HALF + LINES as f32 * LINE + 34.0;
/// The size of names.
const SIZE: f32 = 11.0;
/// The radius of a mark.
const RADIUS: f32 = 3.2;
/// The longest description, in onsets.
const DESCRIBED: usize = 200;

/// One onset.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Onset {
    /// Where it is, in seconds.
    pub seconds: f64,
    /// What it was taken for: a sound's name, a note's.
    pub name: String,
    /// True where that is doubtful.
    pub doubtful: bool,
}

/// A recording and what was heard in it.
pub(crate) struct Heard<'a> {
    /// What it is called.
    pub title: String,
    /// What there is to say of it in a few words each.
    pub about: Vec<String>,
    /// The recording.
    pub audio: &'a Audio,
    /// In the order of time.
    pub onsets: Vec<Onset>,
}

impl Heard<'_> {
    /// Draws row after row. A dot and a name stand at each onset; at a doubtful one an open triangle, and `?` behind the name.
    pub(crate) fn picture(&self) -> Picture {
        let doubtful = self.onsets.iter().filter(|onset| onset.doubtful).count();
        let mut drawing = Drawing::new(
            WIDTH,
            format!("{}: the waveform and what was heard at each onset", self.title),
        );
        drawing.describes(self.described(doubtful));
        let mut y = heading(&mut drawing, &self.title, &self.about);
        drawing.words((EDGE, y), SIZE, Ink::Soft, legend(self.onsets.len(), doubtful));
        y += 14.0;
        let rate = f64::from(self.audio.rate);
        let frames = self.audio.frames();
        let row_frames = (frames.div_ceil(ROWS)).max((SECONDS * rate) as usize).max(1);
        let peak = crate::base::audio::peak(&self.audio.channels);
        for from in (0..frames).step_by(row_frames) {
            let frame = Frame::of(EDGE, WIDTH - 2.0 * EDGE, (from as f64, (from + row_frames) as f64));
            let middle = y + LINES as f32 * LINE + 14.0 + HALF;
            let wave = columns_of(self.audio, from..from + row_frames, COLUMNS);
            drawing.wave(&wave, (EDGE, middle), (frame.width, HALF), peak, Ink::Soft);
            let second = format!("{:.1} s", from as f64 / rate);
            drawing.words((EDGE, middle + HALF + 12.0), 10.0, Ink::Soft, second);
            let until = (from + row_frames) as f64;
            let within = |onset: &&Onset| (from as f64..until).contains(&(onset.seconds * rate));
            self.names(&mut drawing, &frame, self.onsets.iter().filter(within), (y, middle));
            y += ROW;
        }
        drawing.height = y + EDGE;
        Picture(drawing)
    }

    /// A row's onsets: each name on the first line that has room for it.
    fn names<'a>(
        &self,
        drawing: &mut Drawing,
        frame: &Frame,
        onsets: impl Iterator<Item = &'a Onset>,
        (top, middle): (f32, f32),
    ) {
        let rate = f64::from(self.audio.rate);
        let mut ends = [f32::NEG_INFINITY; LINES];
        let foot = top + LINES as f32 * LINE + 6.0;
        for onset in onsets {
            let x = frame.x(onset.seconds * rate);
            let ink = if onset.doubtful { Ink::Accent } else { Ink::Black };
            drawing.upright(x, foot, middle + HALF, 0.8, ink);
            mark(drawing, (x, foot), onset.doubtful);
            let name = match onset.doubtful {
                true => format!("{} ?", onset.name),
                false => onset.name.clone(),
            };
            let name = fitting(&name, SIZE, WIDTH - EDGE - x);
            if let Some(line) = ends.iter().position(|end| *end + 4.0 < x) {
                ends[line] = x + lettering::width(&name, SIZE);
                let y = foot - 6.0 - line as f32 * LINE;
                drawing.words((x - RADIUS, y), SIZE, ink, name);
            }
        }
    }

    fn described(&self, doubtful: usize) -> String {
        let onset = |onset: &Onset| {
            let doubt = if onset.doubtful { ", doubtful" } else { "" };
            format!("{:.2} s {}{doubt}", onset.seconds, onset.name)
        };
        let told: Vec<String> = self.onsets.iter().take(DESCRIBED).map(onset).collect();
        let more = match self.onsets.len() > DESCRIBED {
            true => " and more",
            false => "",
        };
        format!("{}: {}{more}", legend(self.onsets.len(), doubtful), told.join("; "))
    }
}

fn legend(count: usize, doubtful: usize) -> String {
    match doubtful {
        0 => format!("{}; none is doubtful", count_of(count, "onset")),
        doubtful => format!(
            "{}; a triangle and ? mark the {doubtful} that are doubtful",
            count_of(count, "onset")
        ),
    }
}

/// A dot; where doubtful, an open triangle.
fn mark(drawing: &mut Drawing, (x, y): (f32, f32), doubtful: bool) {
    if !doubtful {
        drawing.marks.push(Mark::Dot {
            at: (x, y),
            radius: RADIUS,
            ink: Ink::Black,
        });
        return;
    }
    let r = 1.5 * RADIUS;
    let corners = [(x - r, y + r), (x + r, y + r), (x, y - r)];
    for (number, from) in corners.iter().enumerate() {
        drawing.marks.push(Mark::Line {
            from: *from,
            to: corners[(number + 1) % 3],
            width: 1.2,
            ink: Ink::Accent,
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn doubts_have_words_and_a_shape() {
        let audio = Audio::silence(1, 6 * 48_000, 48_000);
        let onset = |seconds: f64, name: &str, doubtful: bool| Onset {
            seconds,
            name: name.into(),
            doubtful,
        };
        let heard = Heard {
            title: "Quay".into(),
            about: vec!["6 s".into()],
            audio: &audio,
            onsets: vec![
                onset(0.5, "kick", false),
                onset(0.51, "snare", true),
                onset(5.0, "hat-closed", false),
            ],
        };
        let svg = heard.picture().svg();
        for words in ["kick<", "snare ?<", "hat-closed<", "a triangle and ? mark the 1 that"] {
            assert!(svg.contains(words), "{words} is not in\n{svg}");
        }
        let drawn = heard.picture().0;
        assert_eq!(
            drawn
                .marks
                .iter()
                .filter(|mark| matches!(mark, Mark::Dot { .. }))
                .count(),
            2
        );
        assert!(drawn.described.contains("0.51 s snare, doubtful"));
        let rows = drawn.marks.iter().filter(|mark| matches!(mark, Mark::Area { .. }));
        assert_eq!(rows.count(), 2, "a waveform for every 4 s");
    }
}
