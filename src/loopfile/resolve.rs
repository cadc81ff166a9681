//! A draft and what its kit says become a loop without defaults, units and names.

use std::path::PathBuf;

use super::draft::{KitDefaults, LoopDraft, PartDraft, SpaceDraft};
use super::gather::whole;
use super::read::beside;
use super::{
    Bell, Bus, Choke, Compress, Delay, Drive, Duck, Envelope, Exact, Field, Impulse, Loop, Loose, Part, Played,
    Playing, Room, Send, Sound, Space, SpaceKind, Stretch, Strip, Sweep, Swing, Target, Tighten, Time,
};
use crate::keys::{Layers, Length, Setting, Settings, Table, Value};
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
            sweeps: Vec::new(),
        };
        self.sweep_all(&mut resolved, &names, kit);
        self.add_doubles(&mut resolved, kit);
        self.drop_unused(&mut resolved);
        resolved
    }

    /// Resolves the sweeps, and switches on in each strip what a sweep moves.
    fn sweep_all(&self, resolved: &mut Loop, names: &Names<'_>, kit: &KitDefaults) {
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
            performance: part.take.as_ref().map(|take| take.path.clone()),
            strip: strip(&layers(own), names),
            bus: self.bus(&part.settings),
            silenced: part.silenced || Layers::new(Table::Part, [&part.settings]).switch("mute"),
        }
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
        let percent = if part.says("swing") {
            part.number("swing", 50.0)
        } else {
            feel.number("swing", 50.0)
        };
        let swing = Swing {
            share: share(percent),
            of: feel.notes("swing_of").unwrap_or(Exact::new(1, 16)),
        };
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

/// A strip whose references are to be found among some names. Effects that would do nothing are off.
fn strip(layers: &Layers<'_>, names: &Names<'_>) -> Strip {
    let mut strip = written_strip(layers, names);
    strip.compress = strip.compress.filter(|compress| compress.blend > 0.0);
    strip.drive = strip.drive.filter(|drive| drive.amount_db > 0.0 && drive.blend > 0.0);
    strip.duck = strip.duck.filter(|duck| duck.depth_db > 0.0);
    strip
}

/// A strip as it is written, with effects that do nothing.
fn written_strip(layers: &Layers<'_>, names: &Names<'_>) -> Strip {
    let compress = layers.nested("compress").map(|compress| Compress {
        threshold_db: compress.number("threshold", 0.0),
        ratio: compress.number("ratio", 1.0),
        attack: compress.number("attack", 0.0) / 1000.0,
        release: compress.number("release", 0.0) / 1000.0,
        knee_db: compress.number("knee", 0.0),
        makeup_db: compress.number("makeup", 0.0),
        blend: compress.number("blend", 0.0) / 100.0,
    });
    let drive = layers.nested("drive").map(|drive| Drive {
        amount_db: drive.number("amount", 0.0),
        blend: drive.number("blend", 0.0) / 100.0,
        high_cut: drive.level("high_cut"),
    });
    let duck = layers.nested("duck").and_then(|duck| {
        let by = duck.text("by")?;
        Some(Duck {
            by: names.parts.iter().position(|part| *part == by)?,
            depth_db: duck.number("depth", 0.0),
            release: duck.number("release", 0.0) / 1000.0,
        })
    });
    Strip {
        low_cut: layers.level("low_cut"),
        high_cut: layers.level("high_cut"),
        eq: bells(layers),
        compress,
        drive,
        duck,
        spread: layers.number("spread", 0.0) / 1000.0,
        width: layers.number("width", 100.0) / 100.0,
        gain_db: layers.number("gain", f64::NEG_INFINITY),
        pan: layers.number("pan", 0.0) / 100.0,
        ceiling_db: layers.level("ceiling"),
        sends: sends(layers, names),
    }
}

fn sends(layers: &Layers<'_>, names: &Names<'_>) -> Vec<Send> {
    let to = |name: &str| names.spaces.iter().position(|space| *space == name);
    let mut sends = Vec::new();
    for name in ["room", "delay"] {
        sends.extend(
            layers
                .level(name)
                .zip(to(name))
                .map(|(level_db, to)| Send { to, level_db }),
        );
    }
    if let Some(Setting {
        value: Value::Levels(levels),
        ..
    }) = layers.get("sends")
    {
        for (name, level) in levels {
            sends.extend(level.zip(to(&name.text)).map(|(level_db, to)| Send { to, level_db }));
        }
    }
    sends
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

fn bells(layers: &Layers<'_>) -> Vec<Bell> {
    let Some(Setting {
        value: Value::Tables(bells),
        ..
    }) = layers.get("eq")
    else {
        return Vec::new();
    };
    let bell = |settings: &Settings| {
        let layers = Layers::new(Table::Bell, [settings]);
        Some(Bell {
            at: layers.level("at")?,
            gain_db: layers.level("gain")?,
            width: layers.number("width", 1.0),
        })
    };
    bells.iter().filter_map(bell).collect()
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
    }
}

/// The strip in which a form's sections meet, and its loudness: no parts to duck under, nothing to send to.
pub(super) fn form_master(master: &Settings) -> (Strip, Option<f64>) {
    let layers = Layers::new(Table::Master, [master]);
    (strip(&layers, &Names::default()), layers.level("loudness"))
}
