//! The page of a lesson: one HTML file that plays the sounds beside it, and asks the network for nothing.
//!
//! `lesson.html` is its structure; its looks are those of the listening page, and `lesson.css` what is its own.

use std::io::Write;
use std::path::Path;

use minijinja::value::{Serde, Value};
use minijinja::{Environment, context};
use serde::Serialize;

use super::mark::MADE_BY;
use super::page::STYLE;
use super::write_beside;
use crate::text::{Problem, clean};

const STRUCTURE: &str = include_str!("lesson.html");
const OWN_STYLE: &str = include_str!("lesson.css");

/// What the page of a lesson shows.
#[derive(Debug, Clone, Default, Serialize)]
pub(crate) struct LessonPage {
    /// The title of what is learnt.
    pub title: String,
    /// The loop file's name.
    pub source: String,
    /// What there is to say of it in a few words each: tempo, metre, key.
    pub about: Vec<String>,
    /// What counts in, in words: "one bar of side-stick".
    pub count_in: String,
    /// All of it, at each of its tempos.
    pub whole: Vec<Sound>,
    /// Each part with and without the others.
    pub parts: Vec<PartSounds>,
    /// The text chart.
    pub chart: String,
    /// Its chords in words, bar by bar; empty where it has none.
    pub chords: Vec<String>,
    /// What else lies in the folder: what each file is, and its address.
    pub files: Vec<(String, String)>,
}

/// A sound of the lesson.
#[derive(Debug, Clone, Default, Serialize)]
pub(crate) struct Sound {
    /// What it is, in words that stand for themselves: "Night ferry at 70 percent of its tempo".
    pub name: String,
    /// The same in short, where a table says the rest.
    pub short: String,
    /// Its place in the lesson's folder as an address; see [`address`].
    pub file: String,
    /// Its length, as `1:05`.
    pub length: String,
}

/// A part's sounds.
#[derive(Debug, Clone, Default, Serialize)]
pub(crate) struct PartSounds {
    /// The part's or the bus's name.
    pub name: String,
    /// The part alone.
    pub alone: Sound,
    /// All but the part.
    pub without: Sound,
}

/// Writes the page.
///
/// # Errors
/// As [`write_beside`].
pub(crate) fn write(path: &Path, page: &LessonPage) -> Result<(), Problem> {
    let html = html(page)?;
    write_beside(path, |out| out.write_all(html.as_bytes()))
}

fn html(page: &LessonPage) -> Result<String, Problem> {
    let mut page = page.clone();
    cleaned(&mut page);
    let mut environment = Environment::new();
    environment
        .add_template("lesson.html", STRUCTURE)
        .and_then(|()| environment.get_template("lesson.html"))
        .and_then(|template| {
            template.render(context! {
                page => Value::from(Serde(page)),
                made_by => MADE_BY,
                style => STYLE,
                own_style => OWN_STYLE,
            })
        })
        .map_err(|error| Problem::new(format!("the lesson's page can't be laid out: {error}")))
}

/// Takes what may not be shown out of all words.
fn cleaned(page: &mut LessonPage) {
    let sounds = page.parts.iter_mut().flat_map(|part| {
        clean(&mut part.name);
        [&mut part.alone, &mut part.without]
    });
    for sound in page.whole.iter_mut().chain(sounds) {
        clean(&mut sound.name);
        clean(&mut sound.short);
    }
    let words = [&mut page.title, &mut page.source, &mut page.count_in];
    words.into_iter().chain(&mut page.about).for_each(clean);
    page.chords.iter_mut().for_each(clean);
    page.files.iter_mut().for_each(|(what, _)| clean(what));
}

/// A place in the folder as an address: what is not a letter, a digit or one of `-._~/` is written as its bytes (RFC 3986).
pub(crate) fn address(place: &str) -> String {
    let plain = |byte: u8| byte.is_ascii_alphanumeric() || b"-._~/".contains(&byte);
    let byte = |byte: u8| match plain(byte) {
        true => char::from(byte).to_string(),
        false => format!("%{byte:02X}"),
    };
    place.bytes().map(byte).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_are_addresses() {
        assert_eq!(address("audio/03-bass alone?.wav"), "audio/03-bass%20alone%3F.wav");
        assert_eq!(address("Möwe#1.mid"), "M%C3%B6we%231.mid");
    }

    #[test]
    fn titles_are_text_whatever_stands_in_them() {
        let page = LessonPage {
            title: "</h1><script>alert(1)</script>\u{1b}[2J".into(),
            ..LessonPage::default()
        };
        let html = html(&page).unwrap();
        assert!(!html.contains("<script>alert") && !html.contains('\u{1b}'), "{html}");
        assert!(html.contains("&lt;script&gt;alert(1)"));
    }
}
