//! The numbers of a strip that can move while it runs.

use crate::loopfile::{Loop, Strip, Sweep, Target};

/// One number of a strip.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Field {
    /// The low cut's frequency.
    LowCut,
    /// The high cut's frequency.
    HighCut,
    /// A bell's centre, by the bell's number.
    BellAt(usize),
    /// A bell's gain.
    BellGain(usize),
    /// A bell's width.
    BellWidth(usize),
    /// The compressor's threshold.
    Threshold,
    /// The compressor's ratio.
    Ratio,
    /// The compressor's attack.
    Attack,
    /// The compressor's release.
    Release,
    /// The compressor's knee.
    Knee,
    /// The compressor's makeup.
    Makeup,
    /// The compressor's share.
    Squeezed,
    /// The saturator's amount.
    Drive,
    /// The saturator's share.
    Driven,
    /// The high cut on what the saturator adds.
    DriveCut,
    /// The duck's depth.
    Duck,
    /// The lag between the sides.
    Spread,
    /// The side signal's factor.
    Width,
    /// The fader.
    Gain,
    /// The pan.
    Pan,
    /// The ceiling.
    Ceiling,
    /// A send's level, by the send's number in the strip.
    Send(usize),
    /// What comes back from a room or delay; no strip's.
    Level,
}

impl Field {
    /// True where equal steps are octaves; else they are equal steps of the number, which for levels are dB.
    pub fn in_octaves(self) -> bool {
        matches!(
            self,
            Field::LowCut | Field::HighCut | Field::BellAt(_) | Field::DriveCut
        )
    }

    /// The number in a strip; none where its effect is off.
    pub fn get(self, strip: &Strip) -> Option<f64> {
        // Reading and writing share one list of places.
        place(self, &mut strip.clone()).map(|place| *place)
    }

    /// Puts a number into a strip; where its effect is off, nothing happens.
    pub fn set(self, strip: &mut Strip, value: f64) {
        if let Some(place) = place(self, strip) {
            *place = value;
        }
    }

    /// The number in which two strips differ, if it is one that can move.
    pub(crate) fn that_differs(one: &Strip, other: &Strip) -> Option<Field> {
        let bells = one.eq.len().max(other.eq.len());
        let sends = one.sends.len().max(other.sends.len());
        let bell = |n| [Field::BellAt(n), Field::BellGain(n), Field::BellWidth(n)];
        let several = (0..bells).flat_map(bell).chain((0..sends).map(Field::Send));
        SINGLE
            .into_iter()
            .chain(several)
            .find(|field| field.get(one) != field.get(other))
    }
}

/// The fields that a strip has once.
const SINGLE: [Field; 18] = [
    Field::LowCut,
    Field::HighCut,
    Field::Threshold,
    Field::Ratio,
    Field::Attack,
    Field::Release,
    Field::Knee,
    Field::Makeup,
    Field::Squeezed,
    Field::Drive,
    Field::Driven,
    Field::DriveCut,
    Field::Duck,
    Field::Spread,
    Field::Width,
    Field::Gain,
    Field::Pan,
    Field::Ceiling,
];

fn place(field: Field, strip: &mut Strip) -> Option<&mut f64> {
    match field {
        Field::LowCut => strip.low_cut.as_mut(),
        Field::HighCut => strip.high_cut.as_mut(),
        Field::BellAt(n) => strip.eq.get_mut(n).map(|bell| &mut bell.at),
        Field::BellGain(n) => strip.eq.get_mut(n).map(|bell| &mut bell.gain_db),
        Field::BellWidth(n) => strip.eq.get_mut(n).map(|bell| &mut bell.width),
        Field::Threshold => strip.compress.as_mut().map(|compress| &mut compress.threshold_db),
        Field::Ratio => strip.compress.as_mut().map(|compress| &mut compress.ratio),
        Field::Attack => strip.compress.as_mut().map(|compress| &mut compress.attack),
        Field::Release => strip.compress.as_mut().map(|compress| &mut compress.release),
        Field::Knee => strip.compress.as_mut().map(|compress| &mut compress.knee_db),
        Field::Makeup => strip.compress.as_mut().map(|compress| &mut compress.makeup_db),
        Field::Squeezed => strip.compress.as_mut().map(|compress| &mut compress.blend),
        Field::Drive => strip.drive.as_mut().map(|drive| &mut drive.amount_db),
        Field::Driven => strip.drive.as_mut().map(|drive| &mut drive.blend),
        Field::DriveCut => strip.drive.as_mut().and_then(|drive| drive.high_cut.as_mut()),
        Field::Duck => strip.duck.as_mut().map(|duck| &mut duck.depth_db),
        Field::Spread => Some(&mut strip.spread),
        Field::Width => Some(&mut strip.width),
        Field::Gain => Some(&mut strip.gain_db),
        Field::Pan => Some(&mut strip.pan),
        Field::Ceiling => strip.ceiling_db.as_mut(),
        Field::Send(n) => strip.sends.get_mut(n).map(|send| &mut send.level_db),
        Field::Level => None,
    }
}

impl Target {
    /// The strip of a target in its loop; none for a room or delay.
    pub fn strip(self, song: &Loop) -> Option<&Strip> {
        match self {
            Target::Part(part) => Some(&song.parts[part].strip),
            Target::Bus(bus) => Some(&song.buses[bus].strip),
            Target::Master => Some(&song.master),
            Target::Space(_) => None,
        }
    }

    /// The same, to be changed.
    pub(crate) fn strip_mut(self, song: &mut Loop) -> Option<&mut Strip> {
        match self {
            Target::Part(part) => Some(&mut song.parts[part].strip),
            Target::Bus(bus) => Some(&mut song.buses[bus].strip),
            Target::Master => Some(&mut song.master),
            Target::Space(_) => None,
        }
    }
}

impl Strip {
    /// Switches on what a sweep moves, as it is in the strip at the sweep's end, where this strip has it off.
    pub(crate) fn take_up(&mut self, field: Field, moved: &Strip) {
        match field {
            Field::LowCut => self.low_cut = self.low_cut.or(moved.low_cut),
            Field::HighCut => self.high_cut = self.high_cut.or(moved.high_cut),
            Field::Drive | Field::Driven | Field::DriveCut => {
                let own = self.drive.get_or_insert_with(|| {
                    moved.drive.clone().unwrap_or(crate::loopfile::Drive {
                        amount_db: 0.0,
                        blend: 1.0,
                        high_cut: None,
                    })
                });
                own.high_cut = own.high_cut.or(moved.drive.as_ref().and_then(|drive| drive.high_cut));
            }
            Field::Duck => self.duck = self.duck.take().or(moved.duck.clone()),
            Field::Ceiling => self.ceiling_db = self.ceiling_db.or(moved.ceiling_db),
            Field::Send(_) => self.sends.clone_from(&moved.sends),
            _ if field.get(self).is_none() => {
                self.compress = self.compress.take().or(moved.compress.clone());
            }
            _ => {}
        }
    }
}

impl Sweep {
    /// The value at a place in bars from the loop's beginning: that of the last stretch which has begun, or of the first.
    /// A frequency comes as the binary logarithm of its Hz, as it moves.
    pub fn at(&self, bars: f64) -> f64 {
        let begun = self.stretches.iter().rev().find(|stretch| stretch.start <= bars);
        let Some(stretch) = begun.or(self.stretches.first()) else {
            return 0.0;
        };
        let gone = (bars - stretch.start).max(0.0);
        let share = match stretch.every {
            _ if bars >= stretch.end => 1.0,
            Some(every) => gone / every - (gone / every).floor(),
            None => gone / (stretch.end - stretch.start),
        };
        stretch.from + (stretch.to - stretch.from) * share
    }

    /// A value of [`Sweep::at`] as the number itself.
    pub fn number(&self, moving: f64) -> f64 {
        if self.field.in_octaves() {
            libm::exp2(moving)
        } else {
            moving
        }
    }
}
