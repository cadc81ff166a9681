//! A draft and what its kit says become a loop without defaults, units and names.

pub(crate) mod players;
mod strips;
mod sweeps;

use std::path::PathBuf;

use strips::{centres, strip};

use super::unresolved::{LoopDraft, PartDraft, SweepDraft};
use super::written::KitDefaults;
use super::written::paths::beside;
use super::written::tables::SpaceDraft;
use super::written::tables::whole;
use super::{
    Bus, Centre, Choke, Delay, Envelope, Exact, Impulse, Loop, Loose, Part, Played, Playing, Room, Sound, Space,
    SpaceKind, Strip, Sweep, Swing, Target, Tighten, Time, Way,
};
use crate::schema::{Layers, Length, Setting, Settings, Table, Value};
use crate::text::Problem;

/// What strips refer to, in the order in which references count.
#[derive(Default)]
struct Names<'a> {
    parts: Vec<&'a str>,
    spaces: Vec<&'a str>,
}

impl LoopDraft {
    fn references(&self) -> Names<'_> {
        Names {
            parts: self.parts.iter().map(|part| part.name.text.as_str()).collect(),
            spaces: self.spaces.iter().map(|space| space.name.text.as_str()).collect(),
        }
    }

    /// The loop, with what a `kit.toml` says of the pieces under what the file says of the parts.
    pub fn resolve(&self, kit: &KitDefaults) -> Loop {
        let names = self.references();
        let parts: Vec<Part> = self.parts.iter().map(|part| self.part(part, &names, kit)).collect();
        let buses = self.buses.iter().map(|bus| Bus {
            name: bus.name.text.clone(),
            strip: strip(&Layers::new(Table::Bus, [&bus.settings]), &names),
            bus: self.bus(&bus.settings),
            silenced: bus.silenced,
        });
        let master = Layers::new(Table::Master, [&self.master]);
        let mut resolved = Loop {
            title: self.title.clone(),
            kits: self.kits().to_vec(),
            time: self.time.clone(),
            bars: self.bars,
            key: self.key.clone(),
            chords: self.chart.resolved(),
            accents: self.accents.clone(),
            seed: self.seed,
            ending: self.ending,
            parts,
            buses: buses.collect(),
            spaces: self.spaces.iter().map(|space| self.space(space)).collect(),
            master: strip(&master, &names),
            loudness: master.level("loudness"),
            mixes: self.mixes.clone(),
            performances: self.performances(),
            notices: self.notices(),
            hints: self.hints.clone(),
            sweeps: Vec::new(),
            centres: self.centres(kit),
            as_written: self.as_written.clone(),
        };
        self.sweep_all(&mut resolved, &names, kit);
        self.add_doubles(&mut resolved, kit);
        self.drop_unused(&mut resolved);
        resolved
    }

    fn part(&self, part: &PartDraft, names: &Names<'_>, kit: &KitDefaults) -> Part {
        let own = part.own_piece();
        let layers = |piece: &str| {
            Layers::new(
                Table::Part,
                [Some(&part.settings), kit.get(piece)].into_iter().flatten(),
            )
        };
        let (pieces, strokes) = self.played(part);
        let pieces = pieces.iter().map(|piece| Played {
            piece: piece.text.clone(),
            place: whole(piece),
            sound: sound(&layers(&piece.text)),
        });
        Part {
            name: part.name.text.clone(),
            place: whole(&part.name),
            pieces: pieces.collect(),
            strokes,
            unnamed_bars: part.read.unnamed_bars.clone(),
            playing: self.playing(&Layers::new(Table::Part, [&part.settings]), part.take.is_some()),
            changed_playing: self.changed_playing(part),
            double: false,
            way: part.phrase.as_ref().map_or(Way::Hits, |phrase| phrase.way()),
            performance: part.take.as_ref().map(|take| take.path.clone()),
            channel: part.take.as_ref().map(|take| take.channel),
            strip: strip(&layers(own), names),
            bus: self.bus(&part.settings),
            silenced: part.silenced || Layers::new(Table::Part, [&part.settings]).switch("mute"),
        }
    }

    /// The centres of all bells.
    fn centres(&self, kit: &KitDefaults) -> Vec<Centre> {
        let parts = self.parts.iter().map(|part| {
            let layers = [Some(&part.settings), kit.get(part.own_piece())];
            Layers::new(Table::Part, layers.into_iter().flatten())
        });
        let buses = self.buses.iter().map(|bus| Layers::new(Table::Bus, [&bus.settings]));
        let of_strips = parts
            .chain(buses)
            .flat_map(|layers| centres(&layers))
            .collect::<Vec<_>>();
        [of_strips, form_centres(&self.master, &self.sweeps)].concat()
    }

    /// How a part plays by its keys of playing.
    pub(super) fn playing(&self, part: &Layers<'_>, performed: bool) -> Playing {
        // What was performed has its own feel: the loop's does not move it, unless the part says so itself.
        let drifts = if performed {
            part.clone()
        } else {
            part.above(&self.feel)
        };
        let feel = Layers::new(Table::Feel, [&self.feel]);
        let mut swing = self.swing();
        if part.says("swing") {
            swing.share = share(part.number("swing", 50.0));
        }
        let tighten = share(part.number("tighten", 0.0));
        let straight = performed && !part.says("swing");
        let like = self.like.as_ref().filter(|_| !performed);
        let amount = feel.number("amount", 0.0) / 100.0;
        Playing {
            behind: part.number("behind", 0.0) / 1000.0,
            like: like.map(|(_, likeness)| (likeness.clone(), amount)),
            tighten: (tighten > Exact::ZERO).then(|| Tighten {
                by: tighten,
                swing: swing.clone(),
            }),
            swing: match straight {
                true => Swing {
                    share: Exact::new(1, 2),
                    ..swing
                },
                false => swing,
            },
            velocity: match part.get("velocity") {
                Some(Setting {
                    value: Value::Velocities(lowest, highest),
                    ..
                }) => Some((*lowest, *highest)),
                _ => None,
            },
            odds: part.number("odds", 50.0) / 100.0,
            loose: loose(drifts.nested("loose")),
        }
    }

    /// The loop's own swing.
    pub(super) fn swing(&self) -> Swing {
        let feel = Layers::new(Table::Feel, [&self.feel]);
        Swing {
            share: share(feel.number("swing", 50.0)),
            of: feel.notes("swing_of").unwrap_or(Exact::new(1, 16)),
        }
    }

    fn bus(&self, settings: &Settings) -> Option<usize> {
        let name = settings.text("bus")?;
        self.buses.iter().position(|bus| bus.name.text == name.text)
    }

    fn space(&self, space: &SpaceDraft) -> Space {
        let layers = Layers::new(space.settings.table, [&space.settings]);
        let kind = match (space.settings.table, space.settings.text("impulse")) {
            (Table::Delay, _) => SpaceKind::Delay(delay(&layers, &self.time)),
            (_, Some(file)) => SpaceKind::Impulse(Impulse {
                file: beside(&self.folder, &file.text),
                place: whole(file),
                predelay: if layers.says("predelay") {
                    layers.number("predelay", 0.0) / 1000.0
                } else {
                    0.0
                },
                low_cut: layers.level("low_cut").filter(|_| layers.says("low_cut")),
            }),
            _ => SpaceKind::Room(Room {
                size: layers.number("size", 0.0),
                decay: layers.number("decay", 0.0),
                damping: layers.number("damping", 0.0),
                predelay: layers.number("predelay", 0.0) / 1000.0,
                low_cut: layers.level("low_cut"),
            }),
        };
        Space {
            name: space.name.text.clone(),
            level_db: layers.number("level", f64::NEG_INFINITY),
            kind,
        }
    }

    /// What is odd about them, the loop's own first.
    fn notices(&self) -> Vec<Problem> {
        let of_parts = self.parts.iter().flat_map(|part| &part.notices);
        self.notices.iter().chain(of_parts).cloned().collect()
    }

    /// The MIDI files that it reads, each once.
    fn performances(&self) -> Vec<PathBuf> {
        let takes = self.parts.iter().filter_map(|part| part.take.as_ref());
        let mut paths: Vec<PathBuf> = takes.map(|take| take.path.clone()).collect();
        paths.extend(self.like.iter().map(|(path, _)| path.clone()));
        paths.sort();
        paths.dedup();
        paths
    }

    /// Takes out the standard room and delay where nobody sends to them and the file does not speak of them.
    fn drop_unused(&self, resolved: &mut Loop) {
        let strips = |resolved: &Loop| -> Vec<usize> {
            let parts = resolved.parts.iter().map(|part| &part.strip);
            parts
                .chain(resolved.buses.iter().map(|bus| &bus.strip))
                .flat_map(|strip| strip.sends.iter().map(|send| send.to))
                .collect()
        };
        let used = strips(resolved);
        let kept: Vec<usize> = (0..self.spaces.len())
            .filter(|index| self.spaces[*index].described || used.contains(index))
            .collect();
        let moved = |to: usize| kept.iter().position(|index| *index == to).unwrap_or(0);
        let parts = resolved.parts.iter_mut().map(|part| &mut part.strip);
        for send in parts
            .chain(resolved.buses.iter_mut().map(|bus| &mut bus.strip))
            .flat_map(|strip| &mut strip.sends)
        {
            send.to = moved(send.to);
        }
        resolved.sweeps.retain_mut(|sweep| match &mut sweep.target {
            Target::Space(space) if !kept.contains(space) => false,
            Target::Space(space) => {
                *space = moved(*space);
                true
            }
            _ => true,
        });
        let mut index = 0;
        resolved.spaces.retain(|_| {
            index += 1;
            kept.contains(&(index - 1))
        });
    }
}

/// A part's drift: what it says itself, and the loop's feel where it says nothing.
fn loose(layers: Option<Layers<'_>>) -> Loose {
    let said = |name: &str| layers.as_ref().map_or(0.0, |layers| layers.number(name, 0.0));
    Loose {
        time: said("ms") / 1000.0,
        velocity: said("velocity"),
        together: said("together"),
    }
}

/// Percent as an exact share. A file's decimals are taken as they are written, up to six of them.
fn share(percent: f64) -> Exact {
    Exact::new(libm::round(percent * 1e6) as i128, 100_000_000)
}

fn delay(layers: &Layers<'_>, time: &Time) -> Delay {
    Delay {
        time: match layers.length("time") {
            Some(Length::Notes(notes)) => time.seconds(notes),
            Some(Length::Seconds(seconds)) => seconds,
            None => time.seconds(Exact::new(3, 16)),
        },
        feedback: layers.number("feedback", 0.0) / 100.0,
        low_cut: layers.level("low_cut"),
        high_cut: layers.level("high_cut"),
        cross: layers.switch("cross"),
    }
}

pub(super) fn sound(layers: &Layers<'_>) -> Sound {
    let vary = layers.nested("vary");
    let vary = |name: &str| vary.as_ref().map_or(0.0, |vary| vary.number(name, 0.0));
    Sound {
        touch: layers.number("touch", 0.0),
        dark: layers.number("dark", 0.0) / 100.0,
        tune: layers.number("tune", 0.0),
        vary_tune: vary("tune"),
        vary_gain: vary("gain"),
        vary_start: vary("start") / 1000.0,
        envelope: layers.nested("envelope").map(|envelope| Envelope {
            attack: envelope.number("attack", 0.0) / 1000.0,
            hold: envelope.number("hold", 0.0) / 1000.0,
            decay: envelope.level("decay").map(|decay| decay / 1000.0),
        }),
        release: layers.number("release", 0.0) / 1000.0,
        choke: match layers.get("choke").map(|setting| &setting.value) {
            Some(Value::Text(group)) => Choke::Group(group.text.clone()),
            Some(_) => Choke::Off,
            None => Choke::Kit,
        },
        reverse: layers.switch("reverse"),
        start: layers.number("start", 0.0) / 1000.0,
        trim: layers.switch("trim"),
    }
}

/// The centres of a master's bells, and of those that sweeps move.
pub(super) fn form_centres(master: &Settings, drafts: &[SweepDraft]) -> Vec<Centre> {
    let swept = drafts.iter().flat_map(|draft| [&draft.from, &draft.to]);
    let tables = std::iter::once(master).chain(swept);
    tables
        .flat_map(|table| centres(&Layers::new(table.table, [table])))
        .collect()
}

/// The strip in which a form's sections meet, its loudness, and what moves in it: no parts to duck under, nothing to send
/// to.
pub(super) fn form_master(master: &Settings, drafts: &[SweepDraft]) -> (Strip, Option<f64>, Vec<Sweep>) {
    let layers = Layers::new(Table::Master, [master]);
    let mut strip = strip(&layers, &Names::default());
    let sweeps = sweeps::of_form(&mut strip, drafts);
    (strip, layers.level("loudness"), sweeps)
}
