//! A recorded room answers a send as scipy's direct convolution does, in a line and in a circle.

use crate::support::{Desk, list, meter, noise, number, reference};
use serde_json::Value;

struct Room {
    desk: Desk,
    dry: Vec<f32>,
    values: Value,
}

/// A one-shot of noise and a stereo impulse response, both made again as `compute.py` made them.
fn room() -> Room {
    let values = reference("room");
    let size = |key: &str| number(&values[key]) as usize;
    let desk = Desk::new();
    let dry: Vec<f32> = noise(size("signal"), 5).iter().map(|n| *n as f32 / 65536.0).collect();
    desk.one_shot("hiss.wav", &[dry.clone(), dry.clone()]);
    let length = size("impulse");
    let side = |seed: u32| -> Vec<f32> {
        let scale = 32768.0 * length as f64 * 256.0;
        let falling = |(i, n): (usize, &i64)| ((n * (length - i) as i64) as f64 / scale) as f32;
        noise(length, seed).iter().enumerate().map(falling).collect()
    };
    desk.one_shot("stairwell.wav", &[side(17), side(23)]);
    Room { desk, dry, values }
}

impl Room {
    /// Renders the one-shot with a send of 0 dB and takes the dry sound away again.
    fn wet(&self, tempo: u32, ending: &str) -> Vec<Vec<f32>> {
        let text = format!(
            "[loop]\ntempo = {tempo}\nbars = 1\nending = \"{ending}\"\n\
             [[part]]\nname = \"hiss\"\ntrim = false\nhits = \"9---\"\nroom = 0\n\
             [room]\nimpulse = \"stairwell.wav\"\n[master]\nceiling = \"off\"\n"
        );
        let mut sound = self.desk.render(&text);
        for channel in &mut sound.channels {
            for (sample, dry) in channel.iter_mut().zip(&self.dry) {
                *sample -= dry;
            }
        }
        sound.channels
    }

    /// The largest difference from scipy's values, relative to the loudest of them, in dB.
    fn null_db(&self, wet: &[Vec<f32>], key: &str) -> f64 {
        let every = number(&self.values["every"]) as usize;
        let (mut most, mut rest) = (0.0f64, 0.0f64);
        for (side, channel) in list(&self.values, "sides").iter().zip(wet) {
            for (n, wanted) in list(side, key).iter().enumerate() {
                let wanted = number(wanted) / number(&self.values["scale"]);
                most = most.max(wanted.abs());
                rest = rest.max((f64::from(channel[n * every]) - wanted).abs());
            }
        }
        meter::db(rest / most)
    }
}

#[test]
fn a_line_nulls_with_scipy() {
    let room = room();
    let wet = room.wet(60, "damp");
    assert_eq!(wet[0].len(), 192_000);
    let null = room.null_db(&wet, "line");
    assert!(null < -90.0, "{null} dB");
    // Past signal and impulse there is nothing left to answer.
    let end = number(&room.values["signal"]) as usize + number(&room.values["impulse"]) as usize;
    assert!(meter::db(meter::peak(&wet[0][end..])) < -110.0);
}

#[test]
fn a_circle_nulls_with_scipys_line_wrapped() {
    let room = room();
    let wet = room.wet(240, "repeat");
    assert_eq!(wet[0].len(), number(&room.values["round"]) as usize);
    let null = room.null_db(&wet, "circle");
    assert!(null < -90.0, "{null} dB");
}
