//! The page: headings, bars side by side, repeats folded.

use super::measure::{self, Measure, Whose};
use super::{BOLD, DIM, PLAIN, WIDTH, feel, grid};
use crate::loopfile::{Ending, Exact, Form, Loop, Section, Time};
use crate::score::Score;

/// The longest name that is printed whole.
const LONGEST_NAME: usize = 24;
/// Columns between the longest name and its marks.
const GAP: usize = 1;
/// What stands between two bars.
const BARLINE: &str = " | ";

/// A loop's chart, of the bars from one to another (counted from 1); with a score, how far its hits lie from the grid.
///
/// The page has escape sequences for bold and dim marks; who prints it takes them out where they are not wanted.
pub fn song(song: &Loop, bars: (u32, u32), score: Option<&Score>) -> String {
    let mut lines = wrapped(&song.title, WIDTH);
    lines.extend(wrapped(&about(song), WIDTH));
    lines.push(String::new());
    lines.extend(body(song, bars, score));
    lines.join("\n")
}

/// A form's chart, section by section; `scores` holds one for each where the feel is asked for, and `bars` counts over
/// the whole form.
pub fn form(form: &Form, bars: (u32, u32), scores: Option<&[Score]>) -> String {
    let mut lines = wrapped(&form.title, WIDTH);
    lines.extend(wrapped(&frame(form), WIDTH));
    let mut bodies: Vec<(String, Vec<String>)> = Vec::new();
    let mut before = 0;
    for (number, section) in form.sections.iter().enumerate() {
        let (first, last) = (before + 1, before + section.bars());
        before = last;
        let Some(window) = window(section, (bars.0.max(first), bars.1.min(last)), first) else {
            continue;
        };
        lines.push(String::new());
        lines.extend(wrapped(&heading(section, first, last), WIDTH));
        let mut page = wrapped(&about(&section.plays), WIDTH);
        page.push(String::new());
        page.extend(body(&section.plays, window, scores.map(|scores| &scores[number])));
        match bodies.iter().find(|(_, other)| *other == page) {
            Some((name, _)) => lines.extend(wrapped(&format!("as {name} above"), WIDTH)),
            None => {
                lines.extend(page.iter().cloned());
                bodies.push((section.name.clone(), page));
            }
        }
    }
    lines.join("\n")
}

/// The bars of a section's loop that are played in some of the form's bars; all that come up where they go round.
fn window(section: &Section, (from, to): (u32, u32), first: u32) -> Option<(u32, u32)> {
    if from > to {
        return None;
    }
    let round = section.round();
    let (from, to) = (from - first, to - first);
    Some(if to / round == from / round {
        (section.window.0 + from % round, section.window.0 + to % round)
    } else {
        section.window
    })
}

fn heading(section: &Section, first: u32, last: u32) -> String {
    let mut words = vec![format!("{}: {}", section.name, bars_of(first, last))];
    if section.times > 1 {
        words.push(format!("{} times", section.times));
    }
    if section.window != (1, section.plays.bars) {
        words.push(format!(
            "{} of {}",
            bars_of(section.window.0, section.window.1),
            section.plays.title
        ));
    }
    words.join(" · ")
}

/// What a form has around its sections.
fn frame(form: &Form) -> String {
    let mut words = vec![count(form.bars(), "bar")];
    if form.ending != Ending::Repeat {
        words.extend(form.pickup.map(|length| format!("pickup {length}")));
        words.extend((form.fades.0 > 0.0).then(|| format!("fades in over {} bars", form.fades.0)));
        words.extend((form.fades.1 > 0.0).then(|| format!("fades out over {} bars", form.fades.1)));
        words.extend(form.last_hit.then(|| "ends with a hit".to_string()));
    } else {
        words.push("repeats".into());
    }
    words.join(" · ")
}

/// Tempo, metre, key and swing, in a line.
fn about(song: &Loop) -> String {
    let mut words = vec![
        tempo(&song.time),
        format!("{}/{}", song.time.counts, song.time.unit),
        count(song.bars, "bar"),
    ];
    words.extend(song.key.clone());
    words.join(" · ")
}

fn tempo(time: &Time) -> String {
    let half = Exact::new(2, 3);
    let beat = if *time.beat.numer() == 3 {
        format!("{} dotted", time.beat * half)
    } else {
        time.beat.to_string()
    };
    format!("{beat} = {}", time.tempo)
}

/// The bars, equal ones once, as many side by side as the page has room for.
fn body(song: &Loop, (first, last): (u32, u32), score: Option<&Score>) -> Vec<String> {
    let feel = score.map(|score| feel::deviations(song, score));
    let mut measures: Vec<(Measure, Vec<u32>)> = Vec::new();
    let divisions: Vec<Option<u32>> = (first..=last).map(|bar| measure::division(song, bar - 1)).collect();
    let usual = usual(&divisions);
    for (bar, division) in (first..=last).zip(divisions) {
        // A bar that needs less than the others is drawn like them.
        let division = division
            .filter(|division| !usual.is_multiple_of(*division))
            .unwrap_or(usual);
        let measure = Measure::of(song, bar - 1, division, feel.as_deref());
        match measures.iter_mut().find(|(other, _)| *other == measure) {
            Some((_, bars)) => bars.push(bar),
            None => measures.push((measure, vec![bar])),
        }
    }
    let heard = || song.parts.iter().filter(|part| !part.silenced);
    let longest = heard().map(|part| part.name.chars().count()).max().unwrap_or(0);
    let names = longest.min(LONGEST_NAME);
    let room = WIDTH - names - GAP;
    let mut blocks: Vec<Block> = Vec::new();
    for (measure, bars) in measures {
        let other_grid = measure.sounds() && measure.division != usual;
        let mut heading = spelled(&bars);
        if other_grid {
            heading = format!("{heading}, in {}", grid::note_value(measure.division, &song.time));
        }
        for piece in measure.split(room) {
            let from = piece.first_count;
            let heading = if from > 0 {
                format!("{heading}, from count {}", from + 1)
            } else {
                heading.clone()
            };
            blocks.push(Block::new(heading, piece, room));
        }
    }
    let mut lines = Vec::new();
    let mut rest = &blocks[..];
    while !rest.is_empty() {
        let beside =
            |count: usize| rest[..count].iter().map(|block| block.width).sum::<usize>() + (count - 1) * BARLINE.len();
        let count = (1..=rest.len())
            .take_while(|count| beside(*count) <= room)
            .last()
            .unwrap_or(1);
        if !lines.is_empty() {
            lines.push(String::new());
        }
        lines.extend(row_of_bars(song, &rest[..count], names));
        rest = &rest[count..];
    }
    let silent: Vec<&str> = song
        .parts
        .iter()
        .filter(|part| part.silenced)
        .map(|part| part.name.as_str())
        .collect();
    if !silent.is_empty() {
        lines.push(String::new());
        lines.extend(wrapped(&format!("not heard: {}", silent.join(", ")), WIDTH));
    }
    lines
}

/// The grid that most bars need, the finest of those where as many need one or the other.
fn usual(divisions: &[Option<u32>]) -> u32 {
    let bars = |division: &u32| divisions.iter().filter(|other| **other == Some(*division)).count();
    (1..=8).max_by_key(bars).unwrap_or(1)
}

/// A bar with what stands over it.
struct Block {
    heading: Vec<String>,
    measure: Measure,
    width: usize,
}

impl Block {
    fn new(heading: String, measure: Measure, room: usize) -> Block {
        let silent = if measure.sounds() { 0 } else { SILENCE.len() };
        let bar = measure.width().max(silent);
        // A heading may widen a narrow bar by a little; a long one goes over several lines.
        let heading = wrapped(&heading, room.min(bar.max(24)));
        let widest = heading.iter().map(|line| line.chars().count()).max().unwrap_or(0);
        Block {
            heading,
            width: bar.max(widest),
            measure,
        }
    }
}

/// What stands in a bar in which nothing plays.
const SILENCE: &str = "silence";

/// Bars side by side: headings, counts, and a line for each part that plays in one of them.
fn row_of_bars(song: &Loop, blocks: &[Block], names: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let indent = " ".repeat(names + GAP);
    for number in 0..blocks.iter().map(|block| block.heading.len()).max().unwrap_or(0) {
        let texts = blocks
            .iter()
            .map(|block| block.heading.get(number).cloned().unwrap_or_default());
        lines.push(
            format!("{indent}{}", beside(blocks, texts, "   "))
                .trim_end()
                .to_string(),
        );
    }
    let sounds = |block: &&Block| block.measure.sounds();
    if blocks.iter().filter(sounds).count() == 0 {
        lines.push(
            format!(
                "{indent}{}",
                beside(blocks, blocks.iter().map(|_| SILENCE.to_string()), BARLINE)
            )
            .trim_end()
            .to_string(),
        );
        return lines;
    }
    let texts = blocks.iter().map(|block| block.measure.text(Whose::Counts));
    lines.push(
        format!("{indent}{}", beside(blocks, texts, BARLINE))
            .trim_end()
            .to_string(),
    );
    for (number, part) in song.parts.iter().enumerate() {
        for whose in [Whose::Marks(number), Whose::Feel(number)] {
            if !blocks
                .iter()
                .any(|block| block.measure.rows.iter().any(|row| row.whose == whose))
            {
                continue;
            }
            let marks = matches!(whose, Whose::Marks(_));
            let texts = blocks.iter().map(|block| block.measure.text(whose));
            let line = beside(blocks, texts, if marks { BARLINE } else { "   " });
            let line = line.trim_end();
            let (name, line) = if marks {
                (shortened(&part.name), styled(line))
            } else {
                (String::new(), line.to_string())
            };
            lines.push(format!("{name:names$}{}{line}", " ".repeat(GAP)));
        }
    }
    lines
}

fn beside(blocks: &[Block], texts: impl Iterator<Item = String>, between: &str) -> String {
    let texts = blocks
        .iter()
        .zip(texts)
        .map(|(block, text)| format!("{text:0$}", block.width));
    texts.collect::<Vec<_>>().join(between)
}

/// Accents bold, ghost notes dim.
fn styled(marks: &str) -> String {
    let mut line = String::new();
    for mark in marks.chars() {
        match mark {
            'A'..='Z' => line.push_str(&format!("{BOLD}{mark}{PLAIN}")),
            'g' => line.push_str(&format!("{DIM}{mark}{PLAIN}")),
            _ => line.push(mark),
        }
    }
    line
}

fn shortened(name: &str) -> String {
    if name.chars().count() <= LONGEST_NAME {
        return name.to_string();
    }
    name.chars().take(LONGEST_NAME - 1).chain(['…']).collect()
}

fn count(number: u32, thing: &str) -> String {
    if number == 1 {
        format!("1 {thing}")
    } else {
        format!("{number} {thing}s")
    }
}

fn bars_of(first: u32, last: u32) -> String {
    spelled(&(first..=last).collect::<Vec<_>>())
}

/// Bars in words: `bar 3`, `bars 1-4, 8`.
fn spelled(bars: &[u32]) -> String {
    crate::score::spelled(bars)
}

/// A text in lines of so many columns at most, broken between words where that can be.
fn wrapped(text: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let mut word: Vec<char> = word.chars().collect();
        if !line.is_empty() && line.chars().count() + 1 + word.len() > width {
            lines.push(std::mem::take(&mut line));
        }
        while word.len() > width {
            let rest = word.split_off(width);
            lines.push(std::mem::replace(&mut word, rest).into_iter().collect());
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.extend(word);
    }
    lines.push(line);
    lines
}
