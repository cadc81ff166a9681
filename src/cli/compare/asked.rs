//! Which versions are compared.

use std::ops::Range;

use super::MOST;
use crate::loopfile::Given;
use crate::project::{Options, Project};
use crate::text::{Problem, Problems, Source};

/// A key and the values that it takes: one change for each.
#[derive(Clone)]
pub(super) struct Vary(Vec<Given>);

/// A version that is asked for, opened.
pub(super) struct Asked {
    /// What it is called.
    pub name: String,
    /// What it plays.
    pub project: Project,
}

/// Reads `KEY=A,B,C`.
pub(super) fn vary(text: &str) -> Result<Vary, String> {
    let wrong = "expected a key, `=` and values with commas between";
    let (key, values) = text.split_once('=').ok_or(wrong)?;
    let behind = key.len() + 1;
    let key = within(text, 0..key.len());
    let values: Vec<Range<usize>> = split(values)
        .into_iter()
        .map(|value| within(text, behind + value.start..behind + value.end))
        .collect();
    if key.is_empty() || values.iter().any(Range::is_empty) {
        return Err(wrong.into());
    }
    let source = Source::new("--vary", text);
    let given = |value| Given {
        source: source.clone(),
        key: key.clone(),
        value,
    };
    Ok(Vary(values.into_iter().map(given).collect()))
}

/// Where values stand between the commas that are in no brackets and no quotes.
fn split(text: &str) -> Vec<Range<usize>> {
    let (mut depth, mut quoted, mut begun) = (0_i32, false, 0);
    let mut values = Vec::new();
    for (at, letter) in text.char_indices() {
        match letter {
            '"' => quoted = !quoted,
            '[' | '{' if !quoted => depth += 1,
            ']' | '}' if !quoted => depth -= 1,
            ',' if depth == 0 && !quoted => {
                values.push(begun..at);
                begun = at + 1;
            }
            _ => {}
        }
    }
    values.push(begun..text.len());
    values
}

/// A stretch of a text without the spaces around it.
fn within(text: &str, stretch: Range<usize>) -> Range<usize> {
    let text = &text[stretch.clone()];
    let start = stretch.start + (text.len() - text.trim_start().len());
    start..start + text.trim().len()
}

impl Asked {
    /// The loop as written, then the combinations of what varies and what is bypassed; where nothing is, its mixes.
    ///
    /// # Errors
    /// What is wrong with the file or a value; nothing to compare; more than [`MOST`] versions; a name that is bypassed
    /// and that nothing has.
    pub(super) fn of(options: &Options, vary: &[Vary], bypassed: &[String]) -> Result<Vec<Asked>, Problems> {
        let combinations = vary.iter().map(|vary| vary.0.len());
        let count = combinations.fold(1_usize, |all, values| all.saturating_mul(values));
        if count > MOST {
            let what = format!("these are {count} versions; {MOST} are compared at a time");
            return Err(Problem::new(what)
                .help("give fewer values, or fewer keys at a time")
                .into());
        }
        let written = options.clone().open()?;
        let mixes = match options.chosen_mix() {
            None if vary.is_empty() && bypassed.is_empty() => written.mixes(),
            _ => Vec::new(),
        };
        let name = options.chosen_mix().unwrap_or("as written").to_string();
        let mut asked = vec![Asked { name, project: written }];
        for name in mixes {
            let project = options.clone().mix(&name).open()?;
            asked.push(Asked { name, project });
        }
        if !vary.is_empty() {
            for set in combined(vary) {
                let words: Vec<String> = set.iter().map(Given::to_string).collect();
                asked.push(Asked {
                    name: words.join(" "),
                    project: options.clone().given(set).open()?,
                });
            }
        }
        for name in bypassed {
            let mut project = options.clone().open()?;
            project.bypass(name)?;
            asked.push(Asked {
                name: format!("{name} bypassed"),
                project,
            });
        }
        if asked.len() == 1 {
            let what = format!("{} has no mixes to compare it with", options.path().display());
            let help = format!(
                "write a [[mix]], or name a key with --vary, as in --vary {}",
                example(&asked[0].project)
            );
            return Err(Problem::new(what).help(help).into());
        }
        Ok(asked)
    }
}

/// Something to vary that this very file has.
fn example(project: &Project) -> String {
    let song = project.first();
    let buses = song.buses.iter().map(|bus| bus.name.as_str());
    let mut names = buses.chain(song.parts.iter().map(|part| part.name.as_str()));
    let plain = |name: &str| name.chars().all(|letter| letter.is_alphanumeric() || letter == '-');
    match names.next() {
        Some(name) if plain(name) => format!("{name}.drive=0,3,6"),
        Some(name) => format!("'{name}.drive=0,3,6'"),
        None => "master.drive=0,3,6".into(),
    }
}

/// Every combination, the last key's values changing fastest.
fn combined(vary: &[Vary]) -> Vec<Vec<Given>> {
    let mut sets: Vec<Vec<Given>> = vec![Vec::new()];
    for Vary(values) in vary {
        let with = |set: Vec<Given>| {
            values
                .iter()
                .map(move |value| [&set[..], std::slice::from_ref(value)].concat())
        };
        sets = sets.into_iter().flat_map(with).collect();
    }
    sets
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_split_outside_brackets_and_quotes() {
        let values = |text: &str| {
            let Vary(values) = vary(text).unwrap();
            values.iter().map(Given::to_string).collect::<Vec<_>>()
        };
        assert_eq!(values("a.b=2, 4,8"), ["a.b=2", "a.b=4", "a.b=8"]);
        assert_eq!(
            values(" a.b = [{ at = 1, gain = 2 }],off"),
            ["a.b=[{ at = 1, gain = 2 }]", "a.b=off"]
        );
        assert_eq!(values("a.b=\"a,b\",c"), ["a.b=\"a,b\"", "a.b=c"]);
        assert!(vary("drums.drive").is_err() && vary("=1,2").is_err() && vary("a.b=1,,2").is_err());
    }

    #[test]
    fn keys_are_combined() {
        let all = combined(&[vary("a=1,2").unwrap(), vary("b=3,4,5").unwrap()]);
        assert_eq!(all.len(), 6);
        let words: Vec<String> = all[1].iter().map(Given::to_string).collect();
        assert_eq!(words, ["a=1", "b=4"]);
    }
}
