//! Which versions are compared.

use super::MOST;
use super::bypass::bypass;
use crate::cli::options::{EndingName, LoopOptions};
use crate::cli::session::Work;
use crate::text::{Problem, Problems};

/// A key and the values that it takes.
#[derive(Clone)]
pub struct Vary {
    key: String,
    values: Vec<String>,
}

/// A version that is asked for, opened.
pub struct Asked {
    /// What it is called.
    pub name: String,
    /// What it plays.
    pub work: Work,
}

/// Reads `KEY=A,B,C`.
pub fn vary(text: &str) -> Result<Vary, String> {
    let (key, values) = text
        .split_once('=')
        .ok_or("expected a key, `=` and values with commas between")?;
    let values = split(values);
    if key.trim().is_empty() || values.iter().any(String::is_empty) {
        return Err("expected a key, `=` and values with commas between".into());
    }
    Ok(Vary {
        key: key.trim().to_string(),
        values,
    })
}

/// Splits values at the commas that stand in no brackets and no quotes.
fn split(text: &str) -> Vec<String> {
    let (mut depth, mut quoted) = (0_i32, false);
    let mut values = vec![String::new()];
    for letter in text.chars() {
        match letter {
            '"' => quoted = !quoted,
            '[' | '{' if !quoted => depth += 1,
            ']' | '}' if !quoted => depth -= 1,
            _ => {}
        }
        match letter {
            ',' if depth == 0 && !quoted => values.push(String::new()),
            letter => values.last_mut().expect("one value at least").push(letter),
        }
    }
    values.iter().map(|value| value.trim().to_string()).collect()
}

impl Asked {
    /// The loop as written, then the combinations of what varies and what is bypassed; where nothing is, its mixes.
    ///
    /// # Errors
    /// What is wrong with the file or a value; nothing to compare; more than [`MOST`] versions; a name that is bypassed
    /// and that nothing has.
    pub fn of(
        options: &LoopOptions,
        vary: &[Vary],
        bypassed: &[String],
        ending: Option<EndingName>,
    ) -> Result<Vec<Asked>, Problems> {
        let combinations = vary.iter().map(|vary| vary.values.len());
        let count = combinations.fold(1_usize, |all, values| all.saturating_mul(values));
        if count > MOST {
            let what = format!("these are {count} versions; {MOST} are compared at a time");
            return Err(Problem::new(what)
                .help("give fewer values, or fewer keys at a time")
                .into());
        }
        let written = Work::open(options, ending)?;
        let mixes = match options.mix {
            None if vary.is_empty() && bypassed.is_empty() => written.mixes(),
            _ => Vec::new(),
        };
        let mut asked = vec![Asked {
            name: options.mix.clone().unwrap_or("as written".into()),
            work: written,
        }];
        for name in mixes {
            let of_mix = LoopOptions {
                mix: Some(name.clone()),
                ..options.clone()
            };
            let work = Work::open(&of_mix, ending)?;
            asked.push(Asked { name, work });
        }
        if !vary.is_empty() {
            for set in combined(vary) {
                let mut of_set = options.clone();
                of_set.set.extend(set.iter().cloned());
                let words: Vec<String> = set.iter().map(|(key, value)| format!("{key}={value}")).collect();
                asked.push(Asked {
                    name: words.join(" "),
                    work: Work::open(&of_set, ending)?,
                });
            }
        }
        for name in bypassed {
            let mut work = Work::open(options, ending)?;
            bypass(&mut work, name)?;
            asked.push(Asked {
                name: format!("{name} bypassed"),
                work,
            });
        }
        if asked.len() == 1 {
            let what = format!("{} has no mixes to compare it with", options.file.display());
            return Err(Problem::new(what)
                .help("write a [[mix]], or name a key with --vary, as in --vary drums.drive=0,3,6")
                .into());
        }
        Ok(asked)
    }
}

/// Every combination, the last key's values changing fastest.
fn combined(vary: &[Vary]) -> Vec<Vec<(String, String)>> {
    let mut sets: Vec<Vec<(String, String)>> = vec![Vec::new()];
    for Vary { key, values } in vary {
        let with = |set: &Vec<(String, String)>| {
            let set = set.clone();
            values
                .iter()
                .map(move |value| [&set[..], &[(key.clone(), value.clone())]].concat())
        };
        sets = sets.iter().flat_map(with).collect();
    }
    sets
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_split_outside_brackets_and_quotes() {
        assert_eq!(split("2, 4,8"), ["2", "4", "8"]);
        assert_eq!(split("[{ at = 1, gain = 2 }],off"), ["[{ at = 1, gain = 2 }]", "off"]);
        assert_eq!(split("\"a,b\",c"), ["\"a,b\"", "c"]);
        assert!(vary("drums.drive").is_err() && vary("=1,2").is_err() && vary("a.b=1,,2").is_err());
    }

    #[test]
    fn keys_are_combined() {
        let all = combined(&[vary("a=1,2").unwrap(), vary("b=3,4,5").unwrap()]);
        assert_eq!(all.len(), 6);
        assert_eq!(all[1], [("a".into(), "1".into()), ("b".into(), "4".into())]);
    }
}
