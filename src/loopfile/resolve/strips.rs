//! What is said of a strip becomes a strip.

use super::Names;
use crate::loopfile::{Bell, Centre, Compress, Drive, Duck, Send, Strip};
use crate::schema::{Layers, Setting, Settings, Table, Value};

/// A strip whose references are to be found among some names. Effects that would do nothing are off.
pub(super) fn strip(layers: &Layers<'_>, names: &Names<'_>) -> Strip {
    let mut strip = written_strip(layers, names);
    strip.compress = strip.compress.filter(|compress| compress.blend > 0.0);
    strip.drive = strip.drive.filter(|drive| drive.amount_db > 0.0 && drive.blend > 0.0);
    strip.duck = strip.duck.filter(|duck| duck.depth_db > 0.0);
    strip
}

/// A strip as it is written, with effects that do nothing.
pub(super) fn written_strip(layers: &Layers<'_>, names: &Names<'_>) -> Strip {
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

/// Where its bells' centres are written.
pub(super) fn centres(layers: &Layers<'_>) -> Vec<Centre> {
    let centre = |settings: &Settings| {
        Some(Centre {
            at: Layers::new(Table::Bell, [settings]).level("at")?,
            place: settings.get("at")?.place.clone(),
        })
    };
    written_bells(layers).iter().filter_map(centre).collect()
}

fn written_bells<'a>(layers: &Layers<'a>) -> &'a [Settings] {
    match layers.get("eq") {
        Some(Setting {
            value: Value::Tables(bells),
            ..
        }) => bells,
        _ => &[],
    }
}

fn bells(layers: &Layers<'_>) -> Vec<Bell> {
    let bell = |settings: &Settings| {
        let layers = Layers::new(Table::Bell, [settings]);
        Some(Bell {
            at: layers.level("at")?,
            gain_db: layers.level("gain")?,
            width: layers.number("width", 1.0),
        })
    };
    written_bells(layers).iter().filter_map(bell).collect()
}
