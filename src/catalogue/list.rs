//! Reading a list.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::found;
#[cfg(feature = "mp3")]
use crate::export::mp3;
use crate::export::name::{Template, safe};
use crate::loopfile::{Ending, Given, paths};
use crate::schema::{self, Entry, Layers, Node, Settings, Table, TomlValue, catalogue, catalogue_file, collection};
use crate::text::{Place, Problem, Problems, Source, Words, did_you_mean_text, nearest};
use crate::wav::Coding;

/// What names of previews may hold.
pub(super) const PLACEHOLDERS: &[&str] = &["loop", "kit", "mix", "tempo", "vary", "title", "key", "metre", "bars"];
/// The most combinations of values of one collection.
pub(crate) const MOST_VARIED: usize = 10_000;

/// A list of a catalogue, read and checked; what it names was looked for, and not opened.
#[derive(Debug, Clone)]
pub(crate) struct List {
    /// What the catalogue is called.
    pub title: String,
    /// How its previews are named.
    pub template: Template,
    /// Where that is written, or else where the catalogue is.
    pub template_place: Place,
    /// The files of each preview; at least one.
    pub formats: Vec<Format>,
    /// Frames per second.
    pub rate: u32,
    /// How samples of WAVs are stored.
    pub coding: Coding,
    /// How many times loops repeat.
    pub rounds: u32,
    /// What happens to what rings past the last bar, where that is not each loop's own.
    pub ending: Option<Ending>,
    /// What belongs together.
    pub collections: Vec<Collection>,
}

/// Loops on kits, in versions.
#[derive(Debug, Clone)]
pub(crate) struct Collection {
    /// What it is called, as a folder is.
    pub name: String,
    /// Where that is written.
    pub place: Place,
    /// The loop files, each once.
    pub loops: Vec<PathBuf>,
    /// The folders of kits, each once; none where each loop has its own.
    pub kits: Vec<PathBuf>,
    /// Which of their mixes; none for the loops as written.
    pub mixes: Mixes,
    /// In BPM; none where each loop has its own.
    pub tempos: Vec<f64>,
    /// Combinations of values by the address of a key; one without any where nothing varies.
    pub vary: Vec<Vec<Given>>,
    /// True to substitute the closest piece for percussion that a kit lacks.
    pub lend: bool,
}

/// Mixes of a collection.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Mixes {
    /// The loop as written, and all that it has.
    All,
    /// These; none of a name is the loop as written.
    Named(Vec<Option<String>>),
}

/// A format of previews.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Format {
    /// RIFF WAVE.
    Wav,
    /// FLAC (RFC 9639).
    Flac,
    /// MPEG-1 Audio Layer III (ISO/IEC 11172-3).
    #[cfg(feature = "mp3")]
    Mp3,
}

impl Format {
    /// Every format, by its name, which is also the ending of its files.
    pub(crate) const ALL: &[(&'static str, Format)] = &[
        ("wav", Format::Wav),
        ("flac", Format::Flac),
        #[cfg(feature = "mp3")]
        ("mp3", Format::Mp3),
    ];

    /// What a second of it takes, in bytes; of FLAC roughly.
    pub(crate) fn bytes_a_second(self, rate: u32, coding: Coding) -> f64 {
        let wav = 2.0 * f64::from(rate) * coding.bytes() as f64;
        match self {
            Format::Wav => wav,
            // [practice]
            Format::Flac => 0.6 * wav,
            #[cfg(feature = "mp3")]
            Format::Mp3 => mp3::BITS_A_SECOND / 8.0,
        }
    }

    /// The ending of its files.
    pub(crate) fn ending(self) -> &'static str {
        Format::ALL
            .iter()
            .find(|(_, format)| *format == self)
            .map_or("", |(name, _)| name)
    }
}

impl List {
    /// Reads a list.
    ///
    /// # Errors
    /// Everything that is wrong with it: what is misspelt, patterns that find nothing, collections of one name.
    pub(crate) fn read(path: &Path) -> Result<List, Problems> {
        let source = paths::open_as(path, "a list of a catalogue")?;
        let mut problems = Vec::new();
        let entries = schema::parse(&source, &mut problems);
        let list = read(path, &source, &entries, &mut problems);
        match list {
            Some(list) if problems.is_empty() => Ok(list),
            _ => Err(Problems(problems)),
        }
    }
}

fn read(path: &Path, source: &Arc<Source>, entries: &[Entry], problems: &mut Vec<Problem>) -> Option<List> {
    problems.extend(another_kind(entries));
    if !problems.is_empty() {
        return None;
    }
    let beginning = Place {
        source: source.clone(),
        span: 0..0,
    };
    let mut file = schema::read_table(Table::CatalogueFile, &beginning, entries, problems);
    schema::complete(&file, problems);
    let own = file.take(catalogue_file::CATALOGUE)?;
    let layers = Layers::new([&own]);
    let name = layers.text(catalogue::NAME).unwrap_or_default();
    let template_place = own
        .placed(catalogue::NAME)
        .map_or(own.place.clone(), |placed| placed.place.clone());
    let template = Template::read(name, PLACEHOLDERS)
        .map_err(|problem| {
            problems.push(Problem {
                place: Some(template_place.clone()),
                ..problem
            })
        })
        .ok()?;
    let around = path.parent().unwrap_or(Path::new(""));
    let tables = file.take(catalogue_file::COLLECTION).unwrap_or_default();
    let collections: Vec<Collection> = tables
        .iter()
        .filter_map(|table| gathered(around, table, problems))
        .collect();
    for (number, one) in collections.iter().enumerate() {
        let other = collections[..number]
            .iter()
            .find(|other| other.name.to_lowercase() == one.name.to_lowercase());
        if other.is_some() {
            let what = format!("two collections would lie in one folder, `{}`", one.name);
            problems.push(Problem::at(&one.place, what).help("give each collection a name of its own"));
        }
    }
    let rate = u32::try_from(layers.whole(catalogue::RATE)).unwrap_or(u32::MAX);
    let formats = formats(&own, problems);
    #[cfg(feature = "mp3")]
    if let (Some(placed), true) = (
        own.placed(catalogue::RATE),
        formats.contains(&Format::Mp3) && rate > mp3::HIGHEST_RATE,
    ) {
        let what = format!("MP3 knows no rate above {} Hz", mp3::HIGHEST_RATE);
        problems.push(Problem::at(&placed.place, what).help("lower `rate`, or leave \"mp3\" out of `formats`"));
    }
    Some(List {
        title: layers.text(catalogue::TITLE).unwrap_or_default().to_string(),
        template,
        template_place,
        formats,
        rate,
        coding: match layers.text(catalogue::DEPTH) {
            Some("24") => Coding::Int24,
            Some("float") => Coding::Float32,
            _ => Coding::Int16,
        },
        rounds: u32::try_from(layers.whole(catalogue::REPEAT)).unwrap_or(1).max(1),
        ending: layers.text(catalogue::ENDING).map(|ending| Ending::named(Some(ending))),
        collections,
    })
}

/// A loop file or a form file that is taken for a list: said once, not key by key.
fn another_kind(entries: &[Entry]) -> Option<Problem> {
    let named = |name: &str| entries.iter().find(|entry| entry.key.text == name);
    if named("catalogue").is_some() || named("collection").is_some() {
        return None;
    }
    let (entry, kind) = match (named("loop"), named("form")) {
        (Some(entry), _) => (entry, "loop"),
        (None, form) => (form?, "form"),
    };
    let what = format!("this is a {kind} file, not a list of a catalogue");
    let help = "a list has `[catalogue]` and `[[collection]]`: `pressroll manual catalogue` shows one";
    Some(Problem::at(&entry.key.whole(), what).help(help))
}

fn formats(own: &Settings, problems: &mut Vec<Problem>) -> Vec<Format> {
    let Some(words) = own.get(catalogue::FORMATS) else {
        return vec![Format::Wav];
    };
    let mut formats = Vec::new();
    for word in words {
        match Format::ALL.iter().find(|(name, _)| *name == word.text) {
            Some((_, format)) if formats.contains(format) => {}
            Some((_, format)) => formats.push(*format),
            None => problems.push(unknown_format(word)),
        }
    }
    formats
}

fn unknown_format(word: &Words) -> Problem {
    let names: Vec<&str> = Format::ALL.iter().map(|(name, _)| *name).collect();
    let problem = Problem::at(&word.whole(), format!("there is no format \"{}\"", word.text));
    if word.text == "mp3" {
        return problem.help("this pressroll was built without the feature `mp3`: cargo install with --features mp3");
    }
    match nearest(&word.text, names.iter().copied()) {
        Some(near) => problem.help(did_you_mean_text(near)),
        None => problem.help(format!("there are \"{}\"", names.join("\", \""))),
    }
}

/// A collection, with what its patterns find.
fn gathered(around: &Path, table: &Settings, problems: &mut Vec<Problem>) -> Option<Collection> {
    let words = |setting| table.get(setting).map_or(&[][..], Vec::as_slice);
    let loops = found::loops(around, words(collection::LOOPS), problems);
    let kits = found::kits(around, words(collection::KITS), problems);
    let vary = combined(table.get(collection::VARY), problems);
    let name = table.get(collection::NAME)?;
    Some(Collection {
        name: safe(&name.text),
        place: name.whole(),
        loops,
        kits,
        mixes: mixes(words(collection::MIXES)),
        tempos: table.get(collection::TEMPOS).cloned().unwrap_or_default(),
        vary,
        lend: Layers::new([table]).switch(collection::LEND),
    })
}

fn mixes(words: &[Words]) -> Mixes {
    let named = |words: &Words| (words.text != "as written").then(|| words.text.clone());
    match words {
        [] => Mixes::Named(vec![None]),
        _ if words.iter().any(|words| words.text == "all") => Mixes::All,
        words => Mixes::Named(words.iter().map(named).collect()),
    }
}

/// Every combination of the values of some keys, the last key's changing fastest.
fn combined(vary: Option<&Node>, problems: &mut Vec<Problem>) -> Vec<Vec<Given>> {
    let mut sets: Vec<Vec<Given>> = vec![Vec::new()];
    let Some(TomlValue::Table(entries)) = vary.map(|node| &node.what) else {
        return sets;
    };
    for Entry { key, value } in entries {
        let values = match &value.what {
            TomlValue::List(values) => values.as_slice(),
            _ => std::slice::from_ref(value),
        };
        if values.is_empty() || sets.len().saturating_mul(values.len()) > MOST_VARIED {
            let what = match values.is_empty() {
                true => format!("`{}` takes no value", key.text),
                false => format!("`vary` gives more than {MOST_VARIED} combinations"),
            };
            problems.push(
                Problem::at(&value.place, what).help("name some values, or take keys into a collection of their own"),
            );
            return sets;
        }
        let given = |value: &Node| Given {
            source: key.source.clone(),
            key: key.place(0..key.text.len()).span,
            value: value.place.span.clone(),
        };
        let with = |set: Vec<Given>| values.iter().map(move |value| [&set[..], &[given(value)]].concat());
        sets = sets.into_iter().flat_map(with).collect();
    }
    sets
}
