//! What may not be meant in a form, though nothing forbids it.

use super::strokes_between;
use crate::loopfile::{Ending, Exact, Form, Section, Target};
use crate::text::{Problem, spelled};

/// Looks a form over: its sections, what comes before them and after. What its loops have in themselves is for
/// [`hints`](super::hints) to tell.
pub(crate) fn form_hints(form: &Form) -> Vec<Problem> {
    let mut hints: Vec<Problem> = form.sections.iter().filter_map(section).collect();
    hints.extend(form.sections.iter().filter_map(moving_master));
    if form.ending == Ending::Repeat {
        let left_out = [
            (form.pickup.is_some(), "pickup"),
            (form.last_hit, "last hit"),
            (form.fades != (0.0, 0.0), "fades"),
        ];
        for (_, name) in left_out.iter().filter(|(asked, _)| *asked) {
            let what = format!("the form repeats, so it is played without its {name}");
            hints.push(Problem::at(&form.place, what).help("let it end with \"let ring\" or \"damp\""));
        }
        return hints;
    }
    let (Some(first), Some(last)) = (form.sections.first(), form.sections.last()) else {
        return hints;
    };
    let end = Exact::from_integer(first.window.1.into());
    if let Some(pickup) = form.pickup
        && !heard(first, end - pickup / first.plays.time.bar(), end)
    {
        let what = format!("nothing plays in the pickup: `{}` ends with silence", first.name);
        hints.push(Problem::at(&form.place, what).help("take a longer one, or leave it out"));
    }
    let one = Exact::from_integer((last.window.0 - 1).into());
    if form.last_hit && !heard(last, one, one + super::form::THE_ONE) {
        let what = format!(
            "there is no last hit: nothing of `{}` stands on the one of its first bar",
            last.name
        );
        hints.push(Problem::at(&form.place, what).help("give it something to play there, or leave out `end`"));
    }
    hints
}

/// Sweeps of a section's master, which go by the loop's bars: a form has one master, and bars of its own.
fn moving_master(section: &Section) -> Option<Problem> {
    let moves = section.plays.sweeps.iter().any(|sweep| sweep.target == Target::Master);
    let what = format!("the sweeps of the master of `{}` are left out in a form", section.name);
    moves.then(|| {
        Problem::at(&section.place, what)
            .help("write a [[sweep]] of the master in the form file, over the form's bars, or sweep the loop's buses")
    })
}

/// What a section's bars lack: all sound, or some bars'.
fn section(section: &Section) -> Option<Problem> {
    let bar = |number: u32| Exact::from_integer((number - 1).into());
    let bars = section.window.0..=section.window.1;
    let silent: Vec<u32> = bars
        .clone()
        .filter(|number| !heard(section, bar(*number), bar(number + 1)))
        .collect();
    if silent.is_empty() {
        return None;
    }
    if silent.len() == bars.count() {
        let what = format!("nothing is audible in `{}`", section.name);
        return Some(Problem::at(&section.place, what).help("look at its `bars`, `mute` and `only`"));
    }
    let what = format!(
        "nothing of `{}` plays in {} of its loop",
        section.name,
        spelled(&silent)
    );
    Some(Problem::at(&section.place, what))
}

/// True where some part that is heard plays from one bar position to before another.
fn heard(section: &Section, from: Exact, to: Exact) -> bool {
    section
        .plays
        .parts
        .iter()
        .filter(|part| !part.silenced)
        .any(|part| strokes_between(part, from, to).next().is_some())
}
