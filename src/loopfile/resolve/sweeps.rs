//! Sweeps: what moves in a strip is switched on in it.

use super::Names;
use super::strips::written_strip;
use crate::loopfile::unresolved::{LoopDraft, SweepDraft};
use crate::loopfile::written::KitDefaults;
use crate::loopfile::{Exact, Field, Loop, Stretch, Strip, Sweep, Target};
use crate::schema::{Layers, Settings, bus, loop_file, master, room};

impl LoopDraft {
    /// Resolves the sweeps, and switches on in each strip what a sweep moves.
    pub(super) fn sweep_all(&self, resolved: &mut Loop, names: &Names<'_>, kit: &KitDefaults) {
        for draft in &self.sweeps {
            let Some(target) = self.target(&draft.whose) else {
                continue;
            };
            let (field, from, to) = match target {
                Target::Space(_) => {
                    let level = |settings: &Settings| Layers::new([settings]).number(room::LEVEL);
                    (Field::Level, level(&draft.from), level(&draft.to))
                }
                _ => {
                    let from_kit = match target {
                        Target::Part(part) => kit.get(self.parts[part].own_piece()),
                        _ => None,
                    };
                    let end = |settings: &Settings| {
                        let ceiling = match target {
                            Target::Bus(_) => Some(bus::CEILING),
                            Target::Master => Some(master::CEILING),
                            _ => None,
                        };
                        let layers = Layers::new(std::iter::once(settings).chain(from_kit));
                        written_strip(&layers, ceiling, names)
                    };
                    let Some(base) = target.strip_mut(resolved) else {
                        continue;
                    };
                    let Some(moved) = moved(base, &end(&draft.from), &end(&draft.to)) else {
                        continue;
                    };
                    moved
                }
            };
            lay(&mut resolved.sweeps, target, draft, (field, from, to));
        }
        in_order(&mut resolved.sweeps);
    }

    /// Whose table a name means.
    fn target(&self, whose: &str) -> Option<Target> {
        let part = self
            .parts
            .iter()
            .position(|part| part.name.text == whose)
            .map(Target::Part);
        let bus = || {
            self.buses
                .iter()
                .position(|bus| bus.name.text == whose)
                .map(Target::Bus)
        };
        let space = || {
            self.spaces
                .iter()
                .position(|space| space.name.text == whose)
                .map(Target::Space)
        };
        part.or_else(bus)
            .or_else(space)
            .or((whose == loop_file::MASTER.name).then_some(Target::Master))
    }
}

/// The sweeps of a form's master; what they move is switched on in it.
pub(super) fn of_form(master: &mut Strip, drafts: &[SweepDraft]) -> Vec<Sweep> {
    let names = Names::default();
    let end = |settings: &Settings| written_strip(&Layers::new([settings]), Some(master::CEILING), &names);
    let mut sweeps = Vec::new();
    for draft in drafts {
        if let Some(moved) = moved(master, &end(&draft.from), &end(&draft.to)) {
            lay(&mut sweeps, Target::Master, draft, moved);
        }
    }
    in_order(&mut sweeps);
    sweeps
}

/// What a sweep moves in a strip, from where and to where; none where it moves nothing. It is switched on in the strip.
fn moved(base: &mut Strip, from: &Strip, to: &Strip) -> Option<(Field, f64, f64)> {
    let field = Field::that_differs(from, to).or_else(|| Field::that_differs(base, to))?;
    base.take_up(field, to);
    let value = |strip: &Strip| field.get(strip).unwrap_or(0.0);
    Some((field, value(from), value(to)))
}

/// Adds a stretch to the sweep of what it moves.
fn lay(sweeps: &mut Vec<Sweep>, target: Target, draft: &SweepDraft, (field, from, to): (Field, f64, f64)) {
    let moving = |number: f64| if field.in_octaves() { libm::log2(number) } else { number };
    let bars = |exact: Exact| *exact.numer() as f64 / *exact.denom() as f64;
    let stretch = Stretch {
        start: bars(draft.start),
        end: bars(draft.end),
        every: draft.every.map(bars),
        from: moving(from),
        to: moving(to),
    };
    let same = |sweep: &&mut Sweep| sweep.target == target && sweep.field == field;
    match sweeps.iter_mut().find(same) {
        Some(sweep) => sweep.stretches.push(stretch),
        None => sweeps.push(Sweep {
            target,
            field,
            stretches: vec![stretch],
        }),
    }
}

fn in_order(sweeps: &mut [Sweep]) {
    let stretches = sweeps.iter_mut().map(|sweep| &mut sweep.stretches);
    stretches.for_each(|stretches| stretches.sort_by(|a, b| a.start.total_cmp(&b.start)));
}
