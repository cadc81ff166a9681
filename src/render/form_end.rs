//! The end of a form's way: its fades and its master.

use std::sync::Arc;

use super::{Mastered, frames};
use crate::base::audio::Audio;
use crate::loopfile::{Field, Form, Strip};
use crate::mix::strip::sweep::{Barlines, Moves};
use crate::score::{Fades, FormScore};

/// The master's strip, then the fades, then loudness and ceiling.
pub(super) fn fade_and_master(mix: Audio, form: &Form, score: &FormScore, circle: bool) -> Mastered {
    let moves = moves(form, score, circle, mix.rate);
    let mix = Arc::new(mix);
    if score.fades == Fades::default() {
        return Mastered::of(mix, &form.master, form.loudness, circle, (moves, None), None);
    }
    let ceiling = Strip {
        ceiling_db: form.master.ceiling_db,
        ..Strip::plain()
    };
    let before = Strip {
        ceiling_db: None,
        ..form.master.clone()
    };
    let moves_of = |strip: &Strip, of_ceiling: bool| {
        let wanted = |field| (field == Field::Ceiling) == of_ceiling;
        moves.as_ref().and_then(|moves| moves.only(strip, wanted))
    };
    let mut first = Mastered::of(mix, &before, None, circle, (moves_of(&before, false), None), None);
    fade(&mut first.audio, score.fades);
    let last = moves_of(&ceiling, true);
    Mastered::of(
        Arc::new(first.audio),
        &ceiling,
        form.loudness,
        circle,
        (last, None),
        None,
    )
}

/// What moves in the form's master.
fn moves(form: &Form, score: &FormScore, circle: bool, rate: u32) -> Option<Moves> {
    let frames = score.barlines.iter().map(|seconds| seconds * f64::from(rate));
    let barlines = Barlines {
        frames: frames.collect(),
        first: f64::from(score.first),
        bars: score.bars as usize,
        circle,
    };
    Moves::of_form(form.sweeps.clone(), &form.master, barlines, rate)
}

/// Fades audio in and out, and ends it where it has faded out.
pub(super) fn fade(audio: &mut Audio, Fades { up, down }: Fades) {
    if up.is_none() && down.is_none() {
        return;
    }
    let rate = f64::from(audio.rate);
    // The amplitude goes with the square of the time, which lies near to even steps in dB and still reaches silence.
    let gain = |frame: usize| {
        let at = frame as f64 / rate;
        let up = up.map_or(1.0, |(from, to)| ((at - from) / (to - from)).clamp(0.0, 1.0));
        let down = down.map_or(1.0, |(from, to)| ((to - at) / (to - from)).clamp(0.0, 1.0));
        (up * up * down * down) as f32
    };
    let end = down.map_or(usize::MAX, |(_, to)| frames(to, audio.rate));
    for side in &mut audio.channels {
        side.truncate(end);
        side.iter_mut()
            .enumerate()
            .for_each(|(frame, sample)| *sample *= gain(frame));
    }
}
