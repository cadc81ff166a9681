//! The page: what it is filled with.

use minijinja::value::{Serde, Value};
use minijinja::{Environment, context};
use serde::Serialize;

use super::front::Front;
use super::ink::{Used, definitions, short};
use super::score::{Score, System};
use super::{Drums, Wish, key, lead, spoken, tablature};
use crate::export::mark::MADE_BY;
use crate::notation::{Clef, Sheet, Staff};
use crate::text::{Problem, clean};

const STRUCTURE: &str = include_str!("page.html");
const STYLE: &str = include_str!("page.css");

/// Width of what is printed, in mm: A4 and letter both leave it, with margins of 15 mm and 18 mm.
pub(super) const WIDTH: f64 = 180.0;
/// Height of what is printed, in mm, so that a page of letter holds it with margins of 12 mm.
const HEIGHT: f64 = 250.0;
/// Bars of a full band that are to be on one page.
const PAGE: usize = 8;
/// Space between two systems, in mm.
const BETWEEN: f64 = 4.0;
/// Staff spaces in mm, the largest first. "Behind Bars" gives 1.75 mm for single parts, and about 1.3 mm as the least that
/// players read [memory]; a full band in sixteenths is a score, and goes below that.
const SPACES: [f64; 6] = [1.75, 1.6, 1.45, 1.3, 1.15, 1.05];

/// One system on the page.
#[derive(Debug, Serialize)]
struct SystemBlock {
    name: String,
    words: String,
    width: String,
    height: String,
    /// Height in mm.
    tall: String,
    svg: String,
}

/// The systems of a sheet, as large as bars of four a system and eight a page let them be; `above` is the height in mm of what
/// stands above them, `below` are heights of what is to stand below those on their page, the first that can.
pub(super) fn systems(score: &Score, above: f64, below: &[f64]) -> Vec<System> {
    let mut last = None;
    for (below, space) in below.iter().flat_map(|below| SPACES.map(|space| (below, space))) {
        let systems = score.systems(WIDTH / space);
        let eight: f64 = systems
            .iter()
            .take_while(|system| system.bars.start < PAGE)
            .map(|system| system.height * space + BETWEEN)
            .sum();
        let fours = systems.iter().all(|system| system.comfortable);
        let whole = |system: &System| system.bars.len() >= score.usual(0) || system.bars.end == score.bars();
        let good = fours && systems.first().is_none_or(whole) && above + eight + below <= HEIGHT;
        last = Some(systems);
        if good {
            break;
        }
    }
    last.expect("there are sizes")
}

/// The page of a sheet as HTML.
pub(super) fn html(sheet: &Sheet, wish: &Wish) -> Result<String, Problem> {
    let sheet = &cleaned(sheet);
    let lead =
        (sheet.bars.iter().any(|bar| !bar.chords.is_empty()) && sheet.staves.len() != 1).then(|| lead::staff(sheet));
    let on_staves = |staff: &&Staff| wish.drums == Drums::Staff || staff.clef != Clef::Percussion;
    let staves: Vec<&Staff> = lead.iter().chain(sheet.staves.iter().filter(on_staves)).collect();
    let score = Score::new(sheet, staves.clone(), wish.degrees, true);
    let tables: Vec<tablature::Table> = match wish.drums {
        Drums::Staff => Vec::new(),
        Drums::Tablature => tablature::tables(sheet),
    };
    let mut used = Used::default();
    let mut key = key::of_staves(sheet, &staves, &mut used);
    key.extend(key::of_marks(
        &tables.iter().flat_map(tablature::Table::marks).collect(),
    ));
    let front = Front::of(sheet, wish);
    let systems = match staves.is_empty() {
        true => Vec::new(),
        false => {
            let key = key::height(&key, WIDTH);
            let first = tables.iter().filter(|table| table.first < PAGE);
            let below = [key + first.map(tablature::Table::height).sum::<f64>(), key];
            systems(&score, front.height(WIDTH), &below)
        }
    };
    let mut blocks = Vec::new();
    for system in systems {
        used.signs.extend(&system.ink.used.signs);
        used.letters.extend(&system.ink.used.letters);
        let scale = WIDTH / system.width;
        blocks.push(SystemBlock {
            name: spoken::numbers(sheet, system.bars.clone()),
            words: spoken::bars(sheet, &staves, system.bars.clone()),
            width: short(system.width),
            height: short(system.height),
            tall: short(system.height * scale),
            svg: system.ink.svg,
        });
    }
    fill(context! {
        title => &sheet.title,
        lines => front.lines,
        form => front.form,
        folded => front.folded,
        definitions => definitions(&used),
        systems => Value::from(Serde(blocks)),
        tables => Value::from(Serde(tables)),
        key => Value::from(Serde(key)),
        made_by => MADE_BY,
        style => STYLE,
    })
}

/// A sheet whose words may be shown.
fn cleaned(sheet: &Sheet) -> Sheet {
    let mut sheet = sheet.clone();
    clean(&mut sheet.title);
    sheet.kits.iter_mut().for_each(clean);
    for bar in &mut sheet.bars {
        bar.section.iter_mut().chain(&mut bar.feel).for_each(clean);
        bar.chords.iter_mut().for_each(|(_, sign)| clean(&mut sign.text));
    }
    for staff in &mut sheet.staves {
        clean(&mut staff.name);
        clean(&mut staff.short);
        staff.drums.iter_mut().for_each(|drum| clean(&mut drum.name));
    }
    sheet
}

fn fill(with: Value) -> Result<String, Problem> {
    let mut environment = Environment::new();
    environment
        .add_template("page.html", STRUCTURE)
        .and_then(|()| environment.get_template("page.html"))
        .and_then(|template| template.render(with))
        .map_err(|error| Problem::new(format!("the page can't be laid out: {error}")))
}
