//! What stands below a page's title: tempo, feel, key, kit, for whom it is, the form, and which bars are alike.

use super::Wish;
use super::above::tempo_text;
use crate::notation::{Sheet, Signature};
use crate::text::in_a_row;

/// Key signatures from seven flats to seven sharps, as major and minor keys.
const MAJOR: [&str; 15] = [
    "C♭", "G♭", "D♭", "A♭", "E♭", "B♭", "F", "C", "G", "D", "A", "E", "B", "F♯", "C♯",
];
const MINOR: [&str; 15] = [
    "A♭", "E♭", "B♭", "F", "C", "G", "D", "A", "E", "B", "F♯", "C♯", "G♯", "D♯", "A♯",
];

/// What stands above the first system.
pub(super) struct Front {
    title: String,
    /// The lines below the title.
    pub lines: Vec<String>,
    /// Sections in the order in which they are heard, each with its bars; empty where there is none.
    pub form: Vec<String>,
    /// Which bars are written once and heard more often.
    pub folded: Option<String>,
}

impl Front {
    pub(super) fn of(sheet: &Sheet, wish: &Wish) -> Front {
        Front {
            title: sheet.title.clone(),
            lines: lines(sheet, wish),
            form: form(sheet),
            folded: folded(sheet),
        }
    }

    /// Its height in mm: a title of 20 points and lines of 10, on a page of so many mm, at half a letter's size a sign, with the
    /// spaces below.
    pub(super) fn height(&self, page: f64) -> f64 {
        const POINT: f64 = 25.4 / 72.0;
        let tall = |text: &str, points: f64, leading: f64| {
            let wide = text.chars().count() as f64 * points * POINT / 2.0;
            (wide / page).ceil().max(1.0) * points * POINT * leading
        };
        let form = (!self.form.is_empty()).then(|| format!("Form: {}", self.form.join(" · ")));
        let folded = self.folded.as_ref().map(|folded| format!("Alike: bars {folded}"));
        let lines = self.lines.iter().chain(&form).chain(&folded);
        tall(&self.title, 20.0, 1.15) + lines.map(|line| tall(line, 10.0, 1.35)).sum::<f64>() + 5.5
    }
}

/// The lines below the title.
fn lines(sheet: &Sheet, wish: &Wish) -> Vec<String> {
    let mut lines = Vec::new();
    if let Some(instrument) = wish.instrument {
        lines.push(format!(
            "For {} instruments, transposed from concert pitch",
            instrument.name()
        ));
    }
    let mut about = Vec::new();
    if let Some(bar) = sheet.bars.first() {
        about.extend(bar.tempo.map(|(bpm, unit)| tempo_text(bpm, unit)));
        about.push(format!("{}/{}", bar.metre.0, bar.metre.1));
        about.extend(key_name(bar.key));
        about.extend(bar.feel.clone());
    }
    lines.push(about.join(" · "));
    if !sheet.kits.is_empty() {
        let word = if sheet.kits.len() == 1 { "Kit" } else { "Kits" };
        lines.push(format!("{word}: {}", sheet.kits.join(", ")));
    }
    lines
}

fn key_name(key: Signature) -> Option<String> {
    let minor = key.minor?;
    let names = if minor { MINOR } else { MAJOR };
    let name = names.get(usize::try_from(i32::from(key.fifths) + 7).ok()?)?;
    Some(format!("{name} {}", if minor { "minor" } else { "major" }))
}

/// Sections in the order in which they are heard, each with its bars; empty where there is none.
fn form(sheet: &Sheet) -> Vec<String> {
    let mut heard: Vec<(u32, usize)> = Vec::new();
    for (place, bar) in sheet.bars.iter().enumerate() {
        heard.extend(bar.heard.iter().map(|number| (*number, place)));
    }
    heard.sort_unstable();
    let mut sections: Vec<(String, u32, u32)> = Vec::new();
    for (number, place) in heard {
        match (&sheet.bars[place].section, sections.last_mut()) {
            (Some(section), _) => sections.push((section.clone(), number, number)),
            (None, Some(last)) => last.2 = number,
            (None, None) => {}
        }
    }
    let said = sections.into_iter().map(|(name, first, last)| match first == last {
        true => format!("{name} {first}"),
        false => format!("{name} {first}–{last}"),
    });
    said.collect()
}

/// Which bars are written once and heard more often, such as "1–3 = 5–7".
fn folded(sheet: &Sheet) -> Option<String> {
    let mut runs: Vec<Vec<(u32, u32)>> = Vec::new();
    for bar in sheet.bars.iter().filter(|bar| bar.heard.len() > 1) {
        let follows = |run: &&mut Vec<(u32, u32)>| {
            run.len() == bar.heard.len() && run.iter().zip(&bar.heard).all(|((_, last), now)| last + 1 == *now)
        };
        match runs.last_mut().filter(follows) {
            Some(run) => run.iter_mut().for_each(|(_, last)| *last += 1),
            None => runs.push(bar.heard.iter().map(|number| (*number, *number)).collect()),
        }
    }
    let range = |(first, last): &(u32, u32)| match first == last {
        true => first.to_string(),
        false => format!("{first}–{last}"),
    };
    let runs: Vec<String> = runs
        .iter()
        .map(|run| run.iter().map(range).collect::<Vec<_>>().join(" = "))
        .collect();
    (!runs.is_empty()).then(|| in_a_row(&runs))
}
