//! A pitched part as `notes` lines of a loop file, to be edited.

use std::collections::{BTreeMap, BTreeSet};

use super::tablature::spelled;
use crate::harmony::Note;
use crate::loopfile::{Ending, Exact, Loop, Part, Stroke, Way, mark_for, syllable_at, velocity_of_mark, written_note};
use crate::notation::gridded;
use crate::text::quoted;

/// The finest grid of a bar that a line is written on as it is, in words a bar.
const FINEST: i128 = 192;

/// The part, as text of a loop file that plays its pitches, onsets and lengths; comments say what notes can't.
///
/// What was played as MIDI lies on the nearest sixteenth or trip-let of the loop's counts, straight and without drift. Other
/// parts go on swinging and drifting as they do, and keep their other keys.
pub fn written(song: &Loop, part: &Part) -> String {
    let played = part.performance.is_some();
    let strokes = match played {
        true => gridded(&part.strokes, &song.time, song.bars),
        false => part.strokes.clone(),
    };
    let key = song.tonality();
    let word = |group: &[Stroke]| word(group, |stroke| song.named(stroke, key.as_ref()));
    let melody = Melody::of(&strokes, &Lines::of(song, &word), played);
    let mut page = String::new();
    let from = match part.way {
        Way::Comp => "comp",
        Way::Degrees => "degrees",
        _ if played => "midi",
        _ => "notes",
    };
    page.push_str(&format!(
        "# {}, note by note: [part.notes] takes the place of its `{from}`; its other keys stay.\n",
        part.name
    ));
    for lost in lost(part, &melody) {
        page.push_str(&format!("# {lost}.\n"));
    }
    page.push_str(&format!("[[part]]\nname = {}\n", quoted(&part.name)));
    if let Some(piece) = part.pieces.first().filter(|piece| piece.piece != part.name) {
        page.push_str(&format!("piece = {}\n", quoted(&piece.piece)));
    }
    if played {
        page.push_str("swing = \"off\"\nloose = \"off\"\n");
    }
    page.push_str(&table("notes", &melody.lines(song.bars)));
    page
}

/// What lines are written of, and how.
pub(crate) struct Lines<'a> {
    /// Bars of the loop.
    pub bars: u32,
    /// Counts of a bar.
    pub counts: u32,
    /// True where what sounds past the last bar sounds at the first.
    pub repeats: bool,
    /// The word of what begins together; none where it is empty.
    pub word: &'a dyn Fn(&[Stroke]) -> String,
}

impl<'a> Lines<'a> {
    fn of(song: &Loop, word: &'a dyn Fn(&[Stroke]) -> String) -> Lines<'a> {
        Lines {
            bars: song.bars,
            counts: song.time.counts,
            repeats: song.ending == Ending::Repeat,
            word,
        }
    }

    /// Some strokes as a part's table of lines; where they `stand`, all that is off the grid lies on it.
    pub(crate) fn table(&self, name: &str, strokes: &[Stroke], stand: bool) -> String {
        table(name, &Melody::of(strokes, self, stand).lines(self.bars))
    }
}

/// A table of a part, a line for bars that are alike.
fn table(name: &str, lines: &[(Vec<u32>, String)]) -> String {
    let mut page = format!("[part.{name}]\n");
    for (bars, line) in lines {
        page.push_str(&format!("{} = {line}\n", quoted(&spelled(bars))));
    }
    page.push('\n');
    page
}

/// What of a part its notes don't say, a sentence each without its full stop.
fn lost(part: &Part, melody: &Melody) -> Vec<&'static str> {
    let any = |of: &dyn Fn(&Stroke) -> bool| part.strokes.iter().any(of);
    let marked = |marks: &[char]| any(&|stroke| marks.contains(&stroke.mark));
    let mut lost = Vec::new();
    let mut tell = |when: bool, what: &'static str| {
        if when {
            lost.push(what);
        }
    };
    let follows = matches!(part.way, Way::Comp | Way::Degrees);
    tell(follows, "These notes no longer follow [chords]");
    tell(
        part.performance.is_some(),
        "Each note lies on its nearest sixteenth or trip-let; how far off it was played is lost",
    );
    let together = || part.strokes.chunk_by(|one, other| one.at == other.at);
    let spread = |group: &[Stroke]| group.iter().any(|stroke| stroke.shift != group[0].shift);
    tell(together().any(spread), "Strummed chords are struck at once");
    tell(
        melody.shifts_lost,
        "In bars with notes that no syllable names, what was written some ms off the grid lies on it",
    );
    tell(
        part.way == Way::Comp && marked(&['<']),
        "Pushed chords stand where they are played, before the chord that they take",
    );
    tell(marked(&['k']), "Muted scratches are notes as long as their steps");
    tell(
        marked(&['=']),
        "Broken chords are written out, those by chance as the seed has drawn them",
    );
    tell(
        any(&|stroke| (velocity_of_mark(mark_for(stroke.velocity)) - stroke.velocity).abs() > 1e-6),
        "Velocities are those of the nearest marks, such as ^, ( ) and :7",
    );
    tell(
        melody.cut,
        "Notes that sounded on under others end where the next begins",
    );
    tell(
        melody.rounded,
        "What lay on a finer grid than 192 to a bar is rounded to that",
    );
    lost
}

/// Notes that begin together.
struct Together {
    at: Exact,
    end: Exact,
    /// Seconds off the grid.
    shift: f64,
    word: String,
}

/// A part as words at places.
struct Melody {
    words: Vec<Together>,
    /// Counts of a bar.
    counts: u32,
    /// How far into the first bar the last word sounds, where the loop repeats.
    opening: Exact,
    /// True where notes overlapped.
    cut: bool,
    rounded: bool,
    /// True where something off the grid is put on it.
    shifts_lost: bool,
}

impl Melody {
    /// The melody of some strokes; of those that were `played`, as if all lay on the grid.
    fn of(strokes: &[Stroke], lines: &Lines<'_>, played: bool) -> Melody {
        let end = Exact::from_integer(lines.bars.into());
        let mut melody = Melody {
            words: Vec::new(),
            counts: lines.counts,
            opening: Exact::ZERO,
            cut: false,
            rounded: false,
            shifts_lost: false,
        };
        let groups: Vec<&[Stroke]> = strokes.chunk_by(|one, other| one.at == other.at).collect();
        let first = groups.first().map(|group| group[0].at);
        for (number, group) in groups.iter().enumerate() {
            let at = group[0].at;
            let ends: BTreeSet<Exact> = group.iter().map(|stroke| at + stroke.held()).collect();
            let held = ends.last().copied().unwrap_or(at);
            let next = groups.get(number + 1).map(|next| next[0].at);
            // Behind the last word comes the first of the next time round.
            let limit = next.or(first.filter(|_| lines.repeats).map(|first| first + end));
            let limit = limit.unwrap_or(end);
            melody.cut |= ends.len() > 1 || held > limit;
            melody.words.push(Together {
                at,
                end: held.min(limit),
                shift: if played { 0.0 } else { group[0].shift },
                word: (lines.word)(group),
            });
        }
        if let Some(last) = melody.words.last_mut() {
            melody.opening = (last.end - end).max(Exact::ZERO);
            last.end = last.end.min(end);
        }
        melody.words.retain(|word| !word.word.is_empty());
        let on_lines = || (0..lines.bars).filter(|bar| melody.counted(*bar).is_none());
        let rounded = on_lines().any(|bar| melody.grid(bar) > FINEST);
        let shifts_lost = on_lines().any(|bar| melody.is_shifted(bar));
        (melody.rounded, melody.shifts_lost) = (rounded, shifts_lost);
        melody
    }

    /// What sounds in a bar.
    fn sounding(&self, bar: u32) -> impl Iterator<Item = &Together> {
        let begins = Exact::from_integer(bar.into());
        let from = self.words.partition_point(|word| word.end <= begins);
        let here = self.words[from..].iter();
        here.take_while(move |word| word.at < begins + Exact::ONE)
    }

    /// True where something begins in a bar some ms off the grid.
    fn is_shifted(&self, bar: u32) -> bool {
        let begins = Exact::from_integer(bar.into());
        self.sounding(bar).any(|word| word.at >= begins && word.shift != 0.0)
    }

    /// A bar counted aloud, as a list of TOML, where something lies off the grid; none where nothing does, and where something
    /// begins or ends at a place that has no syllable.
    fn counted(&self, bar: u32) -> Option<String> {
        if !self.is_shifted(bar) {
            return None;
        }
        let (begins, counts) = (Exact::from_integer(bar.into()), Exact::from_integer(self.counts.into()));
        let place = |at: Exact| ((at - begins) * counts).clamp(Exact::ZERO, counts);
        let opening = (bar == 0 && self.opening > Exact::ZERO).then(|| (Exact::ZERO, place(self.opening), "=".into()));
        let sounding = self.sounding(bar).map(|word| {
            let text = match word.at < begins {
                true => "=".to_string(),
                false => word.word.clone() + &milliseconds(word.shift),
            };
            (place(word.at), place(word.end), text)
        });
        let spans: Vec<(Exact, Exact, String)> = opening.into_iter().chain(sounding).collect();
        let mut list: Vec<String> = Vec::new();
        // Says what stands at a place and gives the end of its step.
        let mut say = |at: Exact, text: &str| {
            let (syllable, step) = syllable_at(at.fract())?;
            list.push(quoted(&format!("{}{syllable} {text}", at.to_integer() + 1)));
            Some(at + step)
        };
        for (number, (from, to, text)) in spans.iter().enumerate() {
            let mut end = say(*from, text)?;
            while end < *to {
                end = say(end, "=")?;
            }
            let next = spans.get(number + 1).map_or(counts, |(from, ..)| *from);
            if end > *to && next > *to {
                say(*to, "-")?;
            }
        }
        Some(format!("[{}]", list.join(", ")))
    }

    /// How many even steps a bar needs.
    fn grid(&self, bar: u32) -> i128 {
        let begins = Exact::from_integer(bar.into());
        let ends = self.sounding(bar).flat_map(|word| [word.at, word.end]);
        let places = ends.chain((bar == 0).then_some(self.opening));
        let inside = places.filter(|at| (begins..begins + Exact::ONE).contains(at));
        inside.fold(1, |steps, at| {
            let (mut a, mut b) = (steps, *at.denom());
            while b != 0 {
                (a, b) = (b, a % b);
            }
            (steps / a).saturating_mul(*at.denom()).min(FINEST + 1)
        })
    }

    /// The words of a bar.
    fn line(&self, bar: u32) -> String {
        let steps = self.grid(bar).min(FINEST);
        let begins = Exact::from_integer(bar.into());
        let near = |at: Exact| ((at - begins) * steps).round().to_integer();
        let mut line = vec!["-".to_string(); steps as usize];
        let mut hold = |from: i128, to: i128| {
            for step in from.max(0)..to.min(steps) {
                line[step as usize] = "=".into();
            }
        };
        let here: Vec<&Together> = self.sounding(bar).collect();
        if bar == 0 {
            hold(0, near(self.opening));
        }
        here.iter().for_each(|word| hold(near(word.at), near(word.end)));
        for word in here.iter().filter(|word| word.at >= begins) {
            // What rounds to the barline stays before it.
            let step = near(word.at).min(steps - 1);
            line[step as usize] = word.word.clone();
        }
        line.join(" ")
    }

    /// Bars that are alike, counted from 1, with what they play, as TOML.
    fn lines(&self, bars: u32) -> Vec<(Vec<u32>, String)> {
        let mut lines: Vec<(Vec<u32>, String)> = Vec::new();
        let mut known: BTreeMap<String, usize> = BTreeMap::new();
        for bar in 0..bars {
            let line = self.counted(bar).unwrap_or_else(|| quoted(&self.line(bar)));
            match known.get(&line) {
                Some(place) => lines[*place].0.push(bar + 1),
                None => {
                    known.insert(line.clone(), lines.len());
                    lines.push((vec![bar + 1], line));
                }
            }
        }
        lines
    }
}

/// How a shift stands behind a counted note.
fn milliseconds(shift: f64) -> String {
    let ms = libm::round(shift * 1e9) / 1e6;
    if ms == 0.0 { String::new() } else { format!(" {ms:+}ms") }
}

/// Notes that begin together as one word, from the lowest up, each once.
pub(crate) fn word(group: &[Stroke], named: impl Fn(&Stroke) -> Option<Note>) -> String {
    let notes: BTreeMap<i32, Note> = group.iter().filter_map(named).map(|note| (note.midi(), note)).collect();
    let names: Vec<String> = notes.values().map(Note::to_string).collect();
    let together = names.join("+");
    match group.first() {
        Some(first) if !together.is_empty() => written_note(&together, group, mark_for(first.velocity), false),
        _ => together,
    }
}
