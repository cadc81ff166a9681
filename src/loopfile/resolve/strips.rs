//! What is said of a strip becomes a strip.

use super::Names;
use crate::loopfile::{Bell, Centre, Compress, Drive, Duck, Send, Strip};
use crate::schema::{Layers, Setting, Settings, bell, compress, drive, duck, sends, strip};

/// The ceiling of a bus or of the master, which have different defaults; parts have none.
pub(super) type Ceiling = Option<Setting<Option<f64>>>;

/// A strip whose references are to be found among some names. Effects that would do nothing are off.
pub(super) fn strip(layers: &Layers<'_>, ceiling: Ceiling, names: &Names<'_>) -> Strip {
    let mut strip = written_strip(layers, ceiling, names);
    strip.compress = strip.compress.filter(|compress| compress.blend > 0.0);
    strip.drive = strip.drive.filter(|drive| drive.amount_db > 0.0 && drive.blend > 0.0);
    strip.duck = strip.duck.filter(|duck| duck.depth_db > 0.0);
    strip
}

/// A strip as it is written, with effects that do nothing.
pub(super) fn written_strip(layers: &Layers<'_>, ceiling: Ceiling, names: &Names<'_>) -> Strip {
    let compress = layers.nested(strip::COMPRESS).map(|compress| Compress {
        threshold_db: compress.number(compress::THRESHOLD),
        ratio: compress.number(compress::RATIO),
        attack: compress.number(compress::ATTACK) / 1000.0,
        release: compress.number(compress::RELEASE) / 1000.0,
        knee_db: compress.number(compress::KNEE),
        makeup_db: compress.number(compress::MAKEUP),
        blend: compress.number(compress::BLEND) / 100.0,
    });
    let drive = layers.nested(strip::DRIVE).map(|drive| Drive {
        amount_db: drive.number(drive::AMOUNT),
        blend: drive.number(drive::BLEND) / 100.0,
        high_cut: drive.level(drive::HIGH_CUT),
    });
    let duck = layers.nested(sends::DUCK).and_then(|duck| {
        let by = duck.text(duck::BY)?;
        Some(Duck {
            by: names.parts.iter().position(|part| *part == by)?,
            depth_db: duck.number(duck::DEPTH),
            release: duck.number(duck::RELEASE) / 1000.0,
        })
    });
    Strip {
        low_cut: layers.level(strip::LOW_CUT),
        high_cut: layers.level(strip::HIGH_CUT),
        eq: bells(layers),
        compress,
        drive,
        duck,
        spread: layers.number(strip::SPREAD) / 1000.0,
        width: layers.number(strip::WIDTH) / 100.0,
        gain_db: layers.number(strip::GAIN),
        pan: layers.number(strip::PAN) / 100.0,
        ceiling_db: ceiling.and_then(|ceiling| layers.level(ceiling)),
        sends: sends(layers, names),
    }
}

fn sends(layers: &Layers<'_>, names: &Names<'_>) -> Vec<Send> {
    let own = [sends::ROOM, sends::DELAY].map(|send| (send.name, layers.level(send)));
    let named = layers.get(sends::SENDS).into_iter().flatten();
    let all = own
        .into_iter()
        .chain(named.map(|(name, level)| (name.text.as_str(), *level)));
    all.filter_map(|(name, level)| {
        let to = names.spaces.iter().position(|space| *space == name)?;
        Some(Send { to, level_db: level? })
    })
    .collect()
}

/// Where its bells' centres are written.
pub(super) fn centres(layers: &Layers<'_>) -> Vec<Centre> {
    let centre = |settings: &Settings| {
        Some(Centre {
            at: Layers::new([settings]).level(bell::AT)?,
            place: settings.placed(bell::AT)?.place.clone(),
        })
    };
    written_bells(layers).iter().filter_map(centre).collect()
}

fn written_bells<'a>(layers: &Layers<'a>) -> &'a [Settings] {
    layers.get(strip::EQ).map_or(&[], Vec::as_slice)
}

fn bells(layers: &Layers<'_>) -> Vec<Bell> {
    let bell = |settings: &Settings| {
        let layers = Layers::new([settings]);
        Some(Bell {
            at: layers.level(bell::AT)?,
            gain_db: layers.level(bell::GAIN)?,
            width: layers.number(bell::WIDTH),
        })
    };
    written_bells(layers).iter().filter_map(bell).collect()
}
