//! A draft and what its kit says become a loop without defaults, units and names.
//!
//! - In: a [`LoopDraft`], and the settings that `kit.toml` gives to pieces, which lie under those of the parts.
//! - Out: a [`Loop`]: numbers in the model's units, references as indices, sweeps on the strips that they move, doubles as
//!   parts.
//! - It reports no problems: reading has found them all.

mod people;
pub(crate) mod players;
mod strips;
mod sweeps;

use std::path::PathBuf;

use strips::{centres, strip};

use super::unresolved::{LoopDraft, PartDraft, SweepDraft};
use super::written::KitDefaults;
use super::written::paths::beside;
use super::written::tables::SpaceTable;
use super::{
    Bus, Centre, Choke, Delay, Envelope, Exact, Impulse, Loop, Loose, Part, Played, Playing, Room, Sound, Space,
    SpaceKind, Strip, Sweep, Swing, Target, Tighten, Time, Way,
};
use crate::schema::{
    Layers, Length, Settings, Table, Value, bus, delay, envelope, feel, loose, master, part, playing, room, sound, vary,
};
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
            strip: strip(&Layers::new([&bus.settings]), Some(bus::CEILING), &names),
            bus: self.bus(&bus.settings),
            silenced: bus.silenced,
        });
        let master = Layers::new([&self.master]);
        let mut resolved = Loop {
            title: self.title.clone(),
            kits: self.kits().to_vec(),
            time: self.time.clone(),
            bars: self.bars,
            key: self.key.clone(),
            chords: self.chart.resolved(),
            accents: self.accents.clone(),
            loose: loose(Layers::new([&self.feel]).nested(feel::LOOSE)),
            players: self.people().iter().map(|(name, _)| name.text.clone()).collect(),
            seed: self.seed,
            harmony_hints: self.harmony_hints,
            ending: self.ending,
            parts,
            buses: buses.collect(),
            spaces: self.spaces.iter().map(|space| self.space(space)).collect(),
            master: strip(&master, Some(master::CEILING), &names),
            loudness: master.level(master::LOUDNESS),
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
        let layers = |piece: &str| Layers::new(std::iter::once(&part.settings).chain(kit.get(piece)));
        let (pieces, strokes) = self.played(part);
        let pieces = pieces.iter().map(|piece| Played {
            piece: piece.text.clone(),
            place: piece.whole(),
            sound: sound(&layers(&piece.text)),
        });
        Part {
            name: part.name.text.clone(),
            place: part.name.whole(),
            pieces: pieces.collect(),
            strokes,
            unnamed_bars: part.read.unnamed_bars.clone(),
            playing: self.playing(&Layers::new([&part.settings]), part.take.is_some()),
            changed_playing: self.changed_playing(part),
            double: false,
            way: part.phrase.as_ref().map_or(Way::Hits, |phrase| phrase.way),
            performance: part.take.as_ref().map(|take| take.path.clone()),
            channel: part.take.as_ref().map(|take| take.channel),
            player: self.player_of(part),
            ensemble: part.ensemble(),
            apart: 0.0,
            strip: strip(&layers(own), None, names),
            bus: self.bus(&part.settings),
            silenced: part.silenced || Layers::new([&part.settings]).switch(playing::MUTE),
        }
    }

    /// The centres of all bells.
    fn centres(&self, kit: &KitDefaults) -> Vec<Centre> {
        let parts = self
            .parts
            .iter()
            .map(|part| Layers::new(std::iter::once(&part.settings).chain(kit.get(part.own_piece()))));
        let buses = self.buses.iter().map(|bus| Layers::new([&bus.settings]));
        let of_strips: Vec<Centre> = parts.chain(buses).flat_map(|layers| centres(&layers)).collect();
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
        let feel = Layers::new([&self.feel]);
        let mut swing = self.swing();
        if part.says(playing::SWING) {
            swing.share = share(part.number(playing::SWING));
        }
        let tighten = share(part.number(part::TIGHTEN));
        let straight = performed && !part.says(playing::SWING);
        let like = self.like.as_ref().filter(|_| !performed);
        let amount = feel.number(feel::AMOUNT) / 100.0;
        Playing {
            behind: part.number(playing::BEHIND) / 1000.0,
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
            velocity: part.get(playing::VELOCITY).copied(),
            odds: part.number(playing::ODDS) / 100.0,
            loose: loose(drifts.nested(playing::LOOSE)),
        }
    }

    /// The loop's own swing.
    pub(super) fn swing(&self) -> Swing {
        let feel = Layers::new([&self.feel]);
        Swing {
            share: share(feel.number(feel::SWING)),
            of: feel.notes(feel::SWING_OF).unwrap_or(Exact::new(1, 16)),
        }
    }

    fn bus(&self, settings: &Settings) -> Option<usize> {
        let name = settings.get(bus::BUS)?;
        self.buses.iter().position(|bus| bus.name.text == name.text)
    }

    fn space(&self, space: &SpaceTable) -> Space {
        let layers = Layers::new([&space.settings]);
        let kind = match (space.settings.table, space.settings.get(room::IMPULSE)) {
            (Table::Delay, _) => SpaceKind::Delay(delay(&layers, &self.time)),
            (_, Some(file)) => SpaceKind::Impulse(Impulse {
                file: beside(&self.folder, &file.text),
                place: file.whole(),
                // The defaults of these are a synthesised room's.
                predelay: space.settings.get(room::PREDELAY).map_or(0.0, |ms| ms / 1000.0),
                low_cut: layers.level(room::LOW_CUT).filter(|_| layers.says(room::LOW_CUT)),
            }),
            _ => SpaceKind::Room(Room {
                size: layers.number(room::SIZE),
                decay: layers.number(room::DECAY),
                damping: layers.number(room::DAMPING),
                predelay: layers.number(room::PREDELAY) / 1000.0,
                low_cut: layers.level(room::LOW_CUT),
            }),
        };
        Space {
            name: space.name.text.clone(),
            level_db: layers.number(room::LEVEL),
            kind,
        }
    }

    /// Notices on them, the loop's own first.
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
    let said = |setting| layers.as_ref().map_or(0.0, |layers| layers.number(setting));
    Loose {
        time: said(loose::MS) / 1000.0,
        velocity: said(loose::VELOCITY),
        together: said(loose::TOGETHER),
    }
}

/// Percent as an exact share. A file's decimals are taken as they are written, up to six of them.
fn share(percent: f64) -> Exact {
    Exact::new(libm::round(percent * 1e6) as i128, 100_000_000)
}

fn delay(layers: &Layers<'_>, time: &Time) -> Delay {
    Delay {
        time: match layers.length(delay::TIME) {
            Some(Length::Notes(notes)) => time.seconds(notes),
            Some(Length::Seconds(seconds)) => seconds,
            None => time.seconds(Exact::new(3, 16)),
        },
        feedback: layers.number(delay::FEEDBACK) / 100.0,
        low_cut: layers.level(delay::LOW_CUT),
        high_cut: layers.level(delay::HIGH_CUT),
        cross: layers.switch(delay::CROSS),
    }
}

pub(super) fn sound(layers: &Layers<'_>) -> Sound {
    let vary = layers.nested(sound::VARY);
    let vary = |setting| vary.as_ref().map_or(0.0, |vary| vary.number(setting));
    Sound {
        touch: layers.number(sound::TOUCH),
        dark: layers.number(sound::DARK) / 100.0,
        layer_crossfade: layers.number(sound::LAYER_CROSSFADE),
        tune: layers.number(sound::TUNE),
        vary_tune: vary(vary::TUNE),
        vary_gain: vary(vary::GAIN),
        vary_start: vary(vary::START) / 1000.0,
        envelope: layers.nested(sound::ENVELOPE).map(|envelope| Envelope {
            attack: envelope.number(envelope::ATTACK) / 1000.0,
            hold: envelope.number(envelope::HOLD) / 1000.0,
            decay: envelope.level(envelope::DECAY).map(|decay| decay / 1000.0),
        }),
        release: layers.number(sound::RELEASE) / 1000.0,
        choke: match layers.placed(sound::CHOKE).map(|placed| &placed.value) {
            Some(Value::Text(group)) => Choke::Group(group.text.clone()),
            Some(_) => Choke::Off,
            None => Choke::Kit,
        },
        reverse: layers.switch(sound::REVERSE),
        start: layers.number(sound::START) / 1000.0,
        trim: layers.switch(sound::TRIM),
    }
}

/// The centres of a master's bells, and of those that sweeps move.
pub(super) fn form_centres(master: &Settings, drafts: &[SweepDraft]) -> Vec<Centre> {
    let swept = drafts.iter().flat_map(|draft| [&draft.from, &draft.to]);
    let tables = std::iter::once(master).chain(swept);
    tables.flat_map(|table| centres(&Layers::new([table]))).collect()
}

/// The strip in which a form's sections meet, its loudness, and what moves in it: no parts to duck under, nothing to send
/// to.
pub(super) fn form_master(master: &Settings, drafts: &[SweepDraft]) -> (Strip, Option<f64>, Vec<Sweep>) {
    let layers = Layers::new([master]);
    let mut strip = strip(&layers, Some(master::CEILING), &Names::default());
    let sweeps = sweeps::of_form(&mut strip, drafts);
    (strip, layers.level(master::LOUDNESS), sweeps)
}
