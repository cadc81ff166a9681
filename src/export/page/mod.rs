//! The listening page: versions of one piece in one HTML file that opens from disk and asks the network for nothing.
//!
//! `structure.html` is its structure, `style.css` its looks, the scripts are what it does. All are built into the program. The sound
//! lies in the page as FLAC, behind the scripts, so that the first version can be heard while the others are read. What shows names
//! lies in it encoded (`named.js`). The same entries give the same bytes.
//!
//! A page may also be served: then its style, its scripts and its sound are asked for beside it, and `served.js` lets newer
//! renders in.

mod layout;

pub(crate) use layout::OCTAVE_NAMES;

use std::io::Write;
use std::path::Path;

use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use minijinja::value::{Serde, Value};
use minijinja::{Environment, context};
use rayon::prelude::*;
use sha2::{Digest, Sha256};

use super::bars::Bars;
use super::mark::MADE_BY;
use super::{flac, write_beside};
use crate::base::audio::Audio;
use crate::text::{Problem, Problems, clean};

/// Bits a sample of the page's sound.
pub const BITS: u32 = 16;
/// The longest that all versions of a page may be together, in seconds: browsers keep them as floats in memory.
pub(crate) const LONGEST: f64 = 1800.0;
/// The most versions of a page.
pub(crate) const MOST: usize = 100;
/// The most rounds of one of its blind tests.
pub(crate) const MOST_ROUNDS: usize = 500;

const STRUCTURE: &str = include_str!("structure.html");
/// The looks of all listening pages.
pub(crate) const STYLE: &str = include_str!("style.css");
/// In one scope, in this order.
const SCRIPTS: [&str; 8] = [
    include_str!("named.js"),
    include_str!("sound.js"),
    include_str!("span.js"),
    include_str!("difference.js"),
    include_str!("odds.js"),
    include_str!("results.js"),
    include_str!("blind.js"),
    include_str!("script.js"),
];
/// What a page that is served does beside that.
const SERVED: [&str; 5] = [
    include_str!("arriving.js"),
    include_str!("turned.js"),
    include_str!("controls.js"),
    include_str!("steps.js"),
    include_str!("served.js"),
];
/// The looks of settings by hand, which a page that is served has.
const HANDS: &str = include_str!("hands.css");

/// What a listening page shows.
#[derive(Debug, Clone)]
pub struct Page<'a> {
    /// The title of what is heard.
    pub title: String,
    /// What it was made from: the loop file's name.
    pub source: String,
    /// What there is to say of it in a few words each: tempo, metre, key.
    pub about: Vec<String>,
    /// Where the bars lie, for each entry that has none of its own.
    pub bars: Bars,
    /// True where it repeats without a seam.
    pub repeats: bool,
    /// The loudness to which all versions were brought, in LUFS; none where levels are as rendered.
    pub matched_lufs: Option<f64>,
    /// A picture of the versions as SVG, shown above the figures; `super::picture` draws one.
    pub picture: Option<String>,
    /// True where no name is to be seen before a first blind test has ended. It takes two versions at least.
    pub blind: bool,
    /// The versions in order, from 1 to `MOST`.
    pub entries: Vec<Entry<'a>>,
    /// What the dither is drawn from.
    pub seed: u64,
}

/// One version on the page.
#[derive(Debug, Clone)]
pub struct Entry<'a> {
    /// Its name, such as `as written` or `bass forward`.
    pub name: String,
    /// What is set otherwise in it.
    pub setting: Option<String>,
    /// Its sound as it is to be heard, matched already where levels are matched: mono or stereo.
    pub audio: &'a Audio,
    /// The dB by which it was moved to match the others.
    pub moved_db: Option<f64>,
    /// Figures by their names, as they are to be read: `("loudness", "-18.0 LUFS")`.
    pub figures: Vec<(String, String)>,
    /// Its ten octaves from 31.5 Hz to 16 kHz, as they are to be read; none where they are not shown.
    pub octaves: Vec<String>,
    /// Its own bars, where its tempo is another than the page's.
    pub bars: Option<Bars>,
    /// Its integrated loudness in LUFS, for a page that is served: what is tried there is matched to it.
    pub lufs: Option<f64>,
    /// True for a recording that the person put beside the versions: it is cut, or goes on with silence, to their length.
    pub beside: bool,
}

impl<'a> Entry<'a> {
    /// A version without figures.
    pub fn new(name: impl Into<String>, audio: &'a Audio) -> Entry<'a> {
        Entry {
            name: name.into(),
            setting: None,
            audio,
            moved_db: None,
            figures: Vec::new(),
            octaves: Vec::new(),
            bars: None,
            lufs: None,
            beside: false,
        }
    }
}

/// Writes a listening page.
///
/// # Errors
/// As [`html`] and `write_beside`.
pub fn write(path: &Path, page: &Page) -> Result<(), Problems> {
    let html = html(page)?;
    Ok(write_beside(path, |out| out.write_all(html.as_bytes()))?)
}

/// A listening page as the text of its file.
///
/// # Errors
/// No entry or too many; sounds of different rates; no sound or too much of it; no bars.
pub fn html(page: &Page) -> Result<String, Problem> {
    allow(page)?;
    let page = &cleaned(page);
    let length = layout::lengths(page);
    let stored = page.entries.par_iter().zip(&length).map(|(entry, frames)| {
        let audio = match entry.audio.frames() == *frames {
            true => None,
            false => Some(layout::of_length(entry.audio, *frames)),
        };
        flac::encode(audio.as_ref().unwrap_or(entry.audio), BITS, page.seed).map(|bytes| BASE64_STANDARD.encode(bytes))
    });
    let sounds = stored.collect::<Result<Vec<String>, Problem>>()?;
    let identity = identity(page, &sounds);
    fill(
        encoded,
        context! {
            page => Value::from(Serde(layout::layout(page, &length, Some(&identity)))),
            sounds => sounds,
            made_by => MADE_BY,
            style => STYLE,
            script => SCRIPTS.join("\n"),
        },
    )
}

/// The page of a server's render of that number, as the text that it serves: without the sound, which the page asks for as
/// `sound/NUMBER`, and without style and scripts, which it asks for as `style.css` and `script.js`. The token is what it sends with
/// each change that it asks for.
///
/// # Errors
/// As [`html`].
pub(crate) fn served(page: &Page, (number, token): (u64, &str), sound: &str) -> Result<String, Problem> {
    allow(page)?;
    let page = &cleaned(page);
    let length = layout::lengths(page);
    fill(
        Value::from_safe_string,
        context! {
            page => Value::from(Serde(layout::layout(page, &length, None))),
            served => context! { number => number, token => token, sound => sound },
        },
    )
}

/// Which versions a page holds: the SHA-256 of their names and sounds, in hexadecimal digits.
fn identity(page: &Page, sounds: &[String]) -> String {
    let mut hash = Sha256::new();
    for (entry, sound) in page.entries.iter().zip(sounds) {
        for word in [&entry.name, sound] {
            hash.update((word.len() as u64).to_le_bytes());
            hash.update(word.as_bytes());
        }
    }
    hash.finalize().iter().map(|byte| format!("{byte:02x}")).collect()
}

/// The scripts of a page that is served.
pub(crate) fn served_script() -> String {
    format!("\"use strict\";\n{{\n{}\n{}}}\n", SCRIPTS.join("\n"), SERVED.join("\n"))
}

/// The looks of a page that is served.
pub(crate) fn served_style() -> String {
    format!("{STYLE}\n{HANDS}")
}

/// A page whose words may be shown; a picture's are already.
fn cleaned<'a>(page: &Page<'a>) -> Page<'a> {
    let mut page = page.clone();
    let bars = |bars: &mut Bars| bars.bars.iter_mut().flat_map(|bar| &mut bar.section).for_each(clean);
    [&mut page.title, &mut page.source].into_iter().for_each(clean);
    page.about.iter_mut().for_each(clean);
    bars(&mut page.bars);
    for entry in &mut page.entries {
        clean(&mut entry.name);
        entry.setting.iter_mut().for_each(clean);
        entry.figures.iter_mut().for_each(|(name, figure)| {
            clean(name);
            clean(figure);
        });
        entry.bars.iter_mut().for_each(bars);
    }
    page
}

/// What shows names, as a page from disk holds it: no search in its file finds any, and a blind test can take them away.
fn encoded(html: String) -> Value {
    let words = BASE64_STANDARD.encode(html);
    Value::from_safe_string(format!("<script type=\"text/plain\" class=\"named\">{words}</script>"))
}

/// Fills the structure; `named` gives what stands in the page for the parts of it that show names.
fn fill(named: fn(String) -> Value, with: Value) -> Result<String, Problem> {
    let mut environment = Environment::new();
    environment.add_filter("named", move |html: String| named(html));
    environment
        .add_template("structure.html", STRUCTURE)
        .and_then(|()| environment.get_template("structure.html"))
        .and_then(|template| template.render(with))
        .map_err(|error| Problem::new(format!("the listening page can't be laid out: {error}")))
}

fn allow(page: &Page) -> Result<(), Problem> {
    let refused = |what: String, help: &str| Err(Problem::new(what).help(help));
    let count = page.entries.len();
    if count == 0 || count > MOST {
        let what = format!("a listening page can't hold {count} versions: it takes 1 to {MOST}");
        return refused(what, "compare fewer at a time");
    }
    if page.bars.bars.is_empty() {
        return refused("a listening page needs a bar at least".into(), "say where the bars lie");
    }
    let rate = page.entries[0].audio.rate;
    for entry in &page.entries {
        if entry.audio.frames() == 0 {
            return refused(format!("\"{}\" has no sound", entry.name), "leave it out");
        }
        if entry.audio.rate != rate {
            let what = format!(
                "\"{}\" is at {} Hz, the others are at {rate} Hz",
                entry.name, entry.audio.rate
            );
            return refused(what, "bring all of them to one rate");
        }
    }
    let seconds: f64 = page.entries.iter().map(|entry| entry.audio.seconds()).sum();
    if seconds > LONGEST {
        let what = format!(
            "the versions are {:.0} minutes long together; a listening page takes {:.0}",
            seconds / 60.0,
            LONGEST / 60.0
        );
        return refused(what, "compare fewer of them, or fewer bars with --bars");
    }
    Ok(())
}
