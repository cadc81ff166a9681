//! What a comparison tells of itself: tables for people, an object for programs.

use std::fmt::Write;
use std::path::Path;

use serde::Serialize;

use super::Version;
use crate::cli::report::{self, ending, number_of, range_note};
use crate::export::page::OCTAVE_NAMES;
use crate::kit;
use crate::measure::OCTAVES;
use crate::project::Project;
use crate::schema::Difference;
use crate::text::table::{Table, middle_cut};
use crate::text::{one_line, shown_json};

/// Columns of a page.
const PAGE: usize = 80;
/// Columns of a name that is not made brief.
const NAME: usize = 22;
/// Letters of a value before and after a change.
const VALUE: usize = 22;

/// A comparison with what goes into its summary.
pub(super) struct ComparisonReport<'a> {
    /// The loop as it is written.
    pub project: &'a Project,
    /// The folder that was written to.
    pub place: &'a Path,
    /// The listening page, where one was written.
    pub page: Option<&'a Path>,
    /// The versions, the loop as written first, then what lies beside them.
    pub compared: &'a [Version],
    /// The loudness that all were brought to, in LUFS; none where levels were left alone.
    pub matched: Option<f64>,
    /// Seconds that it took, but for the page.
    pub seconds: f64,
    /// Seconds that the page took, its sound above all.
    pub page_seconds: f64,
}

#[derive(Serialize)]
struct Summary<'a> {
    folder: String,
    page: Option<String>,
    matched_lufs: Option<f64>,
    octaves_hz: [f64; 10],
    versions: Vec<VersionFields<'a>>,
    beside: Vec<VersionFields<'a>>,
    render_seconds: f64,
    listened: usize,
    listening_seconds: f64,
    page_seconds: f64,
}

#[derive(Serialize)]
struct VersionFields<'a> {
    name: &'a str,
    file: String,
    seconds: f64,
    lufs: Option<f64>,
    gain_db: f64,
    true_peak_db: Option<f64>,
    lra: Option<f64>,
    crest_db: Option<f64>,
    width_percent: Option<f64>,
    mono_loss_db: Option<f64>,
    octaves_db: [Option<f64>; 10],
    difference_db: Option<f64>,
    changed: &'a [String],
    settings: &'a [Difference],
}

impl ComparisonReport<'_> {
    /// One JSON object.
    pub(super) fn json(&self) -> String {
        let (beside, versions): (Vec<&Version>, _) = self.compared.iter().partition(|one| one.compared.beside);
        let summary = Summary {
            folder: self.place.display().to_string(),
            page: self.page.map(|page| page.display().to_string()),
            matched_lufs: self.matched,
            octaves_hz: OCTAVES,
            versions: versions.into_iter().map(line).collect(),
            beside: beside.into_iter().map(line).collect(),
            render_seconds: self.seconds,
            listened: kit::listened().0,
            listening_seconds: kit::listened().1.as_secs_f64(),
            page_seconds: self.page_seconds,
        };
        shown_json(serde_json::to_string(&summary).expect("a summary of numbers and names is always JSON"))
    }

    /// The tables for people.
    pub(super) fn text(&self) -> String {
        let mut page = format!("{}\n\n", self.project.title());
        self.figures(&mut page);
        self.octaves(&mut page);
        self.changes(&mut page);
        let _ = match self.matched {
            Some(lufs) => writeln!(
                page,
                "all are matched to {lufs:.1} LUFS; figures were measured before level matching"
            ),
            None => writeln!(page, "levels are as they were rendered"),
        };
        page.push_str(range_note(self.compared.iter().map(|one| &one.compared.figures)));
        let without_page = "There are too many versions, or too long ones, for a listening page.\n";
        page.push_str(&ending(
            (self.page, self.page_seconds),
            without_page,
            (self.place, self.seconds),
        ));
        page
    }

    fn figures(&self, page: &mut String) {
        let mut table = Table::new();
        table.row(
            "",
            ["loud", "gain", "truepk", "range", "crest", "width", "mono", "diff"],
        );
        table.row("", ["LUFS", "dB", "dBTP", "LU", "dB", "%", "dB", "dB"]);
        for (number, one) in self.compared.iter().enumerate() {
            let difference = match one.compared.difference_db {
                Some(db) => number_of(Some(db)),
                None if number == 0 || one.compared.beside => String::new(),
                None => "same".into(),
            };
            let cells = [
                number_of(one.compared.figures.lufs),
                number_of(Some(one.compared.gain_db)),
                number_of(one.compared.figures.true_peak_db),
                number_of(one.compared.figures.lra),
                number_of(one.compared.figures.crest_db),
                one.compared
                    .width_percent
                    .map_or("-".into(), |percent| format!("{percent:.0}")),
                number_of(one.compared.figures.mono_loss_db),
                difference,
            ];
            table.row(called(number, &one.name, NAME), cells);
        }
        page.push_str(&table.text(PAGE));
    }

    /// The first one's octaves as they are, the others' against the first's, at equal loudness.
    fn octaves(&self, page: &mut String) {
        page.push_str("\noctaves: dB of the first, then by how much each differs at equal loudness\n");
        let mut table = Table::new();
        table.row("", OCTAVE_NAMES);
        for (number, one) in self.compared.iter().enumerate() {
            table.row(called(number, &one.name, NAME), octaves_of(one, &self.compared[0]));
        }
        page.push_str(&table.text(PAGE));
        page.push('\n');
    }

    fn changes(&self, page: &mut String) {
        let numbered = self.compared.iter().enumerate();
        for (number, one) in
            numbered.filter(|(_, one)| !(one.compared.changed.is_empty() && one.compared.settings.is_empty()))
        {
            let mut line = format!("{} {} changes", number + 1, one.name);
            if one.compared.changed.is_empty() {
                line.push_str(" nothing audible");
            }
            for (place, name) in one.compared.changed.iter().enumerate() {
                let comma = if place > 0 { "," } else { "" };
                let word = format!("{comma} {name}");
                if line.chars().count() + word.chars().count() > PAGE {
                    let _ = writeln!(page, "{line}{comma}");
                    line = format!("  {name}");
                } else {
                    line.push_str(&word);
                }
            }
            let _ = writeln!(page, "{line}");
            for setting in &one.compared.settings {
                let _ = writeln!(page, "  {}", set_otherwise(setting, VALUE));
            }
        }
    }
}

/// A key with its value before and after, each in so many letters at the most.
pub(super) fn set_otherwise(setting: &Difference, letters: usize) -> String {
    let key = middle_cut(&setting.key, PAGE / 3);
    let after = middle_cut(&setting.after, letters);
    match &setting.before {
        Some(before) => format!("{key} {} → {after}", middle_cut(before, letters)),
        None => format!("{key} → {after}"),
    }
}

fn line(one: &Version) -> VersionFields<'_> {
    VersionFields {
        name: &one.name,
        file: one.file.display().to_string(),
        seconds: one.compared.figures.seconds,
        lufs: one.compared.figures.lufs,
        gain_db: one.compared.gain_db,
        true_peak_db: one.compared.figures.true_peak_db,
        lra: one.compared.figures.lra,
        crest_db: one.compared.figures.crest_db,
        width_percent: one.compared.width_percent,
        mono_loss_db: one.compared.figures.mono_loss_db,
        octaves_db: one.compared.octaves,
        difference_db: one.compared.difference_db,
        changed: &one.compared.changed,
        settings: &one.compared.settings,
    }
}

/// A version's octaves as they are to be read, the first one's as they are.
pub(super) fn octaves_of(one: &Version, first: &Version) -> Vec<String> {
    let known = |one: &Version| (one.compared.octaves, one.compared.figures.lufs);
    let first = (!std::ptr::eq(one, first)).then(|| known(first));
    report::octaves_of(&known(one), first.as_ref())
}

/// The figures of one as a listening page shows them.
pub(super) fn figures_of(one: &Version) -> Vec<(String, String)> {
    let figures = [
        ("loudness", one.compared.figures.lufs, "LUFS"),
        ("true peak", one.compared.figures.true_peak_db, "dBTP"),
        ("range", one.compared.figures.lra, "LU"),
        ("crest", one.compared.figures.crest_db, "dB"),
        ("width", one.compared.width_percent, "%"),
        ("mono loss", one.compared.figures.mono_loss_db, "dB"),
        ("difference from 1", one.compared.difference_db, "dB"),
    ];
    let told = figures
        .into_iter()
        .filter_map(|(name, figure, unit)| Some((name, figure?, unit)));
    told.map(|(name, figure, unit)| (name.to_string(), format!("{} {unit}", number_of(Some(figure)))))
        .collect()
}

/// A version's number and name. Of settings longer than some columns the last word of each key is kept, as in `ratio=2`.
fn called(number: usize, name: &str, columns: usize) -> String {
    format!("{} {}", number + 1, brief(name, columns))
}

/// A name; of settings longer than some columns the last word of each key is kept.
pub(super) fn brief(name: &str, columns: usize) -> String {
    let name = &*one_line(name);
    let last = |word: &str| match word.split_once('=') {
        Some((key, value)) => format!("{}={value}", key.rsplit('.').next().unwrap_or(key)),
        None => word.to_string(),
    };
    match name.chars().count() <= columns {
        true => name.to_string(),
        false => name.split(' ').map(last).collect::<Vec<_>>().join(" "),
    }
}

#[cfg(test)]
mod tests {
    use super::called;

    #[test]
    fn long_settings_keep_what_tells_them_apart() {
        let name = "drums.compress.ratio=2 room.decay=0.3";
        assert_eq!(called(1, name, 23), "2 ratio=2 decay=0.3");
        assert_eq!(called(11, "bass forward", 19), "12 bass forward");
    }
}
