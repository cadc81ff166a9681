//! Sweeps: what moves in a strip is switched on in it.

use super::Names;
use super::strips::written_strip;
use crate::keys::{Layers, Settings};
use crate::loopfile::draft::{KitDefaults, LoopDraft};
use crate::loopfile::{Exact, Field, Loop, Stretch, Strip, Sweep, Target};

impl LoopDraft {
    /// Resolves the sweeps, and switches on in each strip what a sweep moves.
    pub(super) fn sweep_all(&self, resolved: &mut Loop, names: &Names<'_>, kit: &KitDefaults) {
        for draft in &self.sweeps {
            let Some(target) = self.target(&draft.whose) else {
                continue;
            };
            let (field, from, to) = match target {
                Target::Space(_) => {
                    let level = |settings: &Settings| {
                        Layers::new(settings.table, [settings]).number("level", f64::NEG_INFINITY)
                    };
                    (Field::Level, level(&draft.from), level(&draft.to))
                }
                _ => {
                    let from_kit = match target {
                        Target::Part(part) => kit.get(self.parts[part].own_piece()),
                        _ => None,
                    };
                    let ends = [&draft.from, &draft.to].map(|settings| {
                        let layers = Layers::new(settings.table, [Some(settings), from_kit].into_iter().flatten());
                        written_strip(&layers, names)
                    });
                    let Some(base) = target.strip_mut(resolved) else {
                        continue;
                    };
                    let Some(field) =
                        Field::that_differs(&ends[0], &ends[1]).or_else(|| Field::that_differs(base, &ends[1]))
                    else {
                        continue;
                    };
                    base.take_up(field, &ends[1]);
                    let value = |strip: &Strip| field.get(strip).unwrap_or(0.0);
                    (field, value(&ends[0]), value(&ends[1]))
                }
            };
            let moving = |number: f64| if field.in_octaves() { libm::log2(number) } else { number };
            let bars = |exact: Exact| *exact.numer() as f64 / *exact.denom() as f64;
            let stretch = Stretch {
                start: bars(draft.start),
                end: bars(draft.end),
                every: draft.every.map(bars),
                from: moving(from),
                to: moving(to),
            };
            match resolved
                .sweeps
                .iter_mut()
                .find(|sweep| sweep.target == target && sweep.field == field)
            {
                Some(sweep) => sweep.stretches.push(stretch),
                None => resolved.sweeps.push(Sweep {
                    target,
                    field,
                    stretches: vec![stretch],
                }),
            }
        }
        for sweep in &mut resolved.sweeps {
            sweep.stretches.sort_by(|a, b| a.start.total_cmp(&b.start));
        }
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
            .or((whose == "master").then_some(Target::Master))
    }
}
