//! `pressroll balance`.

use std::io::Write;

use clap::Args;
use serde::Serialize;

use super::options::LoopOptions;
use super::replace::still_as_read;
use super::report::number_of;
use super::{Done, output};
use crate::export::write_beside;
use crate::loopfile::{edited, paths};
use crate::project::balance::{Aim, Balance, BalancedPart, Role, TABLE, Verdict};
use crate::render::Order;
use crate::schema::strip;
use crate::text::table::Table;
use crate::text::width::wrapped;
use crate::text::{Problem, count_of, did_you_mean, nearest, one_line, shown_json, shown_path};

/// Columns of the page.
const WIDTH: usize = 80;
/// The levels that a person may give a part, in LU from the lead's place.
const LEVELS: std::ops::RangeInclusive<f64> = -60.0..=20.0;

/// Propose gains by how loud each part is where it plays
#[derive(Args)]
pub(super) struct BalanceCommand {
    #[command(flatten)]
    options: LoopOptions,
    /// Give a part a role, a level in LU or keep: tune=lead, hum=-9; repeatable
    #[arg(long, value_name = "PART=AIM", help_heading = "The balance")]
    aim: Vec<String>,
    /// Write the gains into the loop file, and nothing else
    #[arg(long, help_heading = "The balance", conflicts_with_all = ["set", "mix", "kit", "swap", "seed"])]
    write: bool,
    /// Print a JSON object and nothing else
    #[arg(long, help_heading = "The balance")]
    json: bool,
}

/// The fields of `--json`.
#[derive(Serialize)]
struct Told<'a> {
    file: String,
    /// The part that keeps its gain while the others move.
    reference: Option<&'a str>,
    parts: Vec<PartLine<'a>>,
    /// True where the file has the proposed gains now.
    written: bool,
}

#[derive(Serialize)]
struct PartLine<'a> {
    name: &'a str,
    role: Option<&'static str>,
    gain_db: Option<f64>,
    lufs: Option<f64>,
    /// LU from the lead's place: where the part stands, and where it should.
    relative_lu: Option<f64>,
    aim_lu: Option<f64>,
    proposed_gain_db: Option<f64>,
    /// Why there is no gain to propose.
    keeps: Option<&'static str>,
}

impl BalanceCommand {
    /// Measures, tells and, where it is asked for, writes.
    pub(super) fn run(self) -> Done {
        let path = &self.options.file;
        let aims = self.aim.iter().map(|text| aim(text)).collect::<Result<Vec<_>, _>>()?;
        // What is measured is what is written back: the file is read once.
        let source = paths::open(path)?;
        if self.write {
            still_as_read(path, &source.text)?;
        }
        let project = self.options.project(None).text(source.text.as_str()).open()?;
        let order = Order {
            bars: self.options.bars,
            ..Order::default()
        };
        let balance = project.balance(&order, &aims)?;
        let moves = balance.moves();
        let writes = self.write && !moves.is_empty();
        if writes {
            let gain = |(name, gain): &(&str, f64)| (format!("{name}.{}", strip::GAIN), gain.to_string());
            let gains: Vec<_> = moves.iter().map(gain).collect();
            let Some(text) = edited::with_values(&source, &gains) else {
                let what = format!("{} is so written that no gain can be added to it", shown_path(path));
                return Err(Problem::new(what)
                    .help("write the gains into it as they are listed without --write")
                    .into());
            };
            project.with_gains_in(text.clone(), &moves)?;
            still_as_read(path, &source.text)?;
            write_beside(path, |out| out.write_all(text.as_bytes()))?;
        }
        Ok(output::to_stdout(&match self.json {
            true => self.json(&balance, writes),
            false => self.page(&balance, writes),
        })?)
    }

    fn json(&self, balance: &Balance, written: bool) -> String {
        let line = |part| PartLine::of(part);
        let told = Told {
            file: self.options.file.display().to_string(),
            reference: balance.reference.map(|at| balance.parts[at].name.as_str()),
            parts: balance.parts.iter().map(line).collect(),
            written,
        };
        shown_json(serde_json::to_string(&told).expect("figures and names are always JSON"))
    }

    fn page(&self, balance: &Balance, written: bool) -> String {
        let file = shown_path(&self.options.file);
        let title = format!("{file}: how loud each part is where it plays; 0 LU is the lead's place");
        let mut told = notes(balance);
        told.push(match (balance.moves().len(), written) {
            (0, _) if self.write => format!("{file} stays as it is."),
            (0, _) => "There is no gain to propose.".to_string(),
            (many, true) => format!("Wrote {} into {file}.", count_of(many, "gain")),
            _ => "Put each line under the name of its part, or let --write do it.".to_string(),
        });
        let lines = |text: &String| wrapped(text, WIDTH).join("\n");
        let told: Vec<String> = told.iter().map(lines).collect();
        format!(
            "{}\n\n{}\n{}",
            lines(&title),
            table(balance).text(WIDTH),
            told.join("\n")
        )
    }
}

impl Balance {
    /// The parts whose gain should be another, with that gain in dB.
    fn moves(&self) -> Vec<(&str, f64)> {
        let gain = |part: &BalancedPart| match part.verdict {
            Verdict::Move(gain) => Some(gain),
            _ => None,
        };
        let parts = self.parts.iter();
        parts
            .filter_map(|part| Some((part.name.as_str(), gain(part)?)))
            .collect()
    }
}

impl PartLine<'_> {
    fn of(part: &BalancedPart) -> PartLine<'_> {
        PartLine {
            name: &part.name,
            role: part.role.map(|role| role.row().name),
            gain_db: part.gain_db.is_finite().then_some(part.gain_db),
            lufs: part.lufs,
            relative_lu: part.stands,
            aim_lu: part.aim,
            proposed_gain_db: match part.verdict {
                Verdict::Move(gain) => Some(gain),
                _ => None,
            },
            keeps: word(part.verdict),
        }
    }
}

/// Why a part keeps its gain, in a word or two.
fn word(verdict: Verdict) -> Option<&'static str> {
    Some(match verdict {
        Verdict::Move(_) => return None,
        Verdict::Fits => "fits",
        Verdict::Reference => "reference",
        Verdict::NoRole => "no role",
        Verdict::Kept => "kept",
        Verdict::Swept(_) => "swept",
        Verdict::Silenced => "silenced",
        Verdict::Silent => "silent",
        Verdict::OutOfRange(_) => "out of range",
    })
}

/// A line a part: its role, its gain, how loud it is, where it stands and should stand, and the line to write.
fn table(balance: &Balance) -> Table {
    let mut table = Table::with_words();
    table.row("  part", ["role", "gain", "loud", "stands", "aim", "write"]);
    table.row("", ["", "dB", "LUFS", "LU", "LU", ""]);
    for part in &balance.parts {
        let gain = if part.gain_db.is_finite() {
            number_of(Some(part.gain_db))
        } else {
            "off".into()
        };
        let cells = [
            part.role.map_or("-", |role| role.row().name).to_string(),
            gain,
            number_of(part.lufs),
            number_of(part.stands),
            number_of(part.aim),
            match part.verdict {
                Verdict::Move(gain) => format!("gain = {gain}"),
                verdict => word(verdict).unwrap_or_default().to_string(),
            },
        ];
        table.row(format!("  {}", one_line(&part.name)), cells);
    }
    table
}

/// What the words of the table do not say by themselves.
fn notes(balance: &Balance) -> Vec<String> {
    let named = |verdict: fn(Verdict) -> bool| -> Vec<String> {
        let parts = balance.parts.iter().filter(|part| verdict(part.verdict));
        parts.map(|part| format!("`{}`", one_line(&part.name))).collect()
    };
    let mut notes = Vec::new();
    let aimed = balance
        .parts
        .iter()
        .filter(|part| part.aim.is_some() && part.lufs.is_some());
    match (balance.reference, aimed.count()) {
        (None, _) => notes.push("No part that plays has a role: give some one with --aim PART=ROLE.".to_string()),
        (Some(at), 1) => {
            let name = one_line(&balance.parts[at].name);
            notes.push(format!(
                "`{name}` is the only part with an aim: nothing stands beside it."
            ));
        }
        (Some(at), _) => {
            let name = one_line(&balance.parts[at].name);
            notes.push(format!("`{name}` keeps its gain, and the others come to it."));
        }
    }
    let no_role = named(|verdict| verdict == Verdict::NoRole);
    if let Some(first) = no_role.first() {
        let first = first.trim_matches('`');
        notes.push(format!(
            "No role is known for {}: give one with --aim {first}=ROLE, or a level with --aim {first}=-8.",
            no_role.join(", ")
        ));
    }
    for part in &balance.parts {
        let name = one_line(&part.name);
        match part.verdict {
            Verdict::Swept(by) => {
                let way = if by > 0.0 { "higher" } else { "lower" };
                notes.push(format!(
                    "A sweep sets the gain of `{name}`: make its `from` and `to` {} dB {way}.",
                    by.abs()
                ));
            }
            Verdict::OutOfRange(gain) => {
                notes.push(format!(
                    "`{name}` would need a gain of {gain} dB, which no part can have."
                ));
            }
            _ => {}
        }
    }
    notes
}

/// What `--aim` says of a part.
fn aim(text: &str) -> Result<(String, Aim), Problem> {
    let refused = |what: String| Problem::new(format!("`--aim {}`: {what}", one_line(text)));
    let Some((name, aim)) = text.rsplit_once('=') else {
        return Err(refused("it lacks a `=`".into()).help("write a part and its aim, as in --aim tune=lead"));
    };
    let (name, aim) = (name.trim().to_string(), aim.trim());
    if let Some(role) = Role::named(aim) {
        return Ok((name, Aim::Role(role)));
    }
    if aim == "keep" {
        return Ok((name, Aim::Keep));
    }
    match aim.parse::<f64>() {
        Ok(level) if LEVELS.contains(&level) => Ok((name, Aim::Level(level))),
        Ok(_) => {
            let what = format!("a level goes from {} to {} LU", LEVELS.start(), LEVELS.end());
            Err(refused(what).help("0 is the lead's place, and less is softer"))
        }
        Err(_) => {
            let known: Vec<&str> = TABLE.iter().map(|row| row.name).chain(["keep"]).collect();
            let problem = refused(format!("there is no role called `{}`", one_line(aim)));
            Err(match nearest(aim, known.iter().copied()) {
                Some(near) => problem.help(did_you_mean(near)),
                None => problem.help(format!("take a number of LU, or one of {}", known.join(", "))),
            })
        }
    }
}
