//! One sounding hit.

use std::sync::Arc;

use super::envelope::Contour;
use crate::base::audio::Audio;

/// Frames worked on at a time, so that the gains stay close at hand.
pub(super) const STRETCH: usize = 512;
/// How a hit fades in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum FadeIn {
    /// Not at all: as its recording does.
    None,
    /// Along a line, against the click where it starts in the middle of its recording.
    Soft,
    /// Over so many frames, as the note fades out from which it goes on.
    Legato(usize),
}

/// Frames over which a recording that starts in its middle fades in.
const SOFT_START: usize = 24;
/// Seconds over which a note rises that goes on from another: as long as that fades [practice].
const LEGATO: f64 = 0.015;

impl FadeIn {
    /// That of a hit that leaves out so many frames.
    pub(super) fn of(start: usize, legato: bool, rate: u32) -> FadeIn {
        match start {
            _ if legato => FadeIn::Legato((LEGATO * f64::from(rate)) as usize),
            0 => FadeIn::None,
            _ => FadeIn::Soft,
        }
    }

    /// The frames that it takes.
    fn frames(self) -> usize {
        match self {
            FadeIn::None => 0,
            FadeIn::Soft => SOFT_START,
            FadeIn::Legato(frames) => frames,
        }
    }

    /// The gain of a frame of it.
    fn gain(self, frame: usize) -> f32 {
        let share = frame as f32 / self.frames() as f32;
        match self {
            FadeIn::None => 1.0,
            FadeIn::Soft => share,
            // A release falls by the square of what is left; with it this is 1.
            FadeIn::Legato(_) => share * (2.0 - share),
        }
    }
}

/// A hit while it sounds.
#[derive(Clone)]
pub(super) struct Voice {
    audio: Arc<Audio>,
    /// Frames of the recording that are left out before the hit begins.
    skipped: usize,
    fade_in: FadeIn,
    /// Frames since the hit began.
    age: usize,
    /// Its length in frames.
    life: usize,
    gain: f32,
    contour: Arc<Contour>,
    dull: Option<Dull>,
}

impl Voice {
    /// A hit of a sound at a level, from so many frames on and with a way to fade in.
    pub(super) fn new(
        audio: Arc<Audio>,
        (start, fade_in): (usize, FadeIn),
        gain: f32,
        contour: Arc<Contour>,
        dull: Option<Dull>,
    ) -> Voice {
        let left = audio.frames().saturating_sub(start);
        let life = contour.end().map_or(left, |end| end.min(left));
        Voice {
            audio,
            skipped: start,
            fade_in,
            age: 0,
            life,
            gain,
            contour,
            dull,
        }
    }

    /// True once nothing more will come.
    pub(super) fn is_over(&self) -> bool {
        self.age >= self.life
    }

    /// Frames until nothing more will come.
    pub(super) fn left(&self) -> usize {
        self.life.saturating_sub(self.age)
    }

    /// Lets frames go by unheard, in a part of so many channels.
    pub(super) fn skip(&mut self, frames: usize, channels: usize) {
        if self.dull.is_some() {
            // Its filter has to have heard them.
            let mut away = vec![[0.0; STRETCH]; channels];
            for from in (0..frames.min(self.left())).step_by(STRETCH) {
                let run = STRETCH.min(frames - from);
                self.add(&mut away.iter_mut().map(|side| &mut side[..run]).collect::<Vec<_>>());
            }
        } else {
            self.age += frames.min(self.left());
        }
    }

    /// Adds the next frames to a block of as many channels as the part has.
    pub(super) fn add(&mut self, block: &mut [&mut [f32]]) {
        let frames = block.first().map_or(0, |channel| channel.len()).min(self.left());
        let mut done = 0;
        while done < frames {
            let run = STRETCH.min(frames - done);
            self.stretch(block, done, run);
            done += run;
        }
    }

    fn stretch(&mut self, block: &mut [&mut [f32]], at: usize, run: usize) {
        // A mono recording in a stereo part stands at the centre, 3 dB down on each side.
        let centred = self.audio.channels.len() == 1 && block.len() == 2;
        let level = if centred {
            self.gain * std::f32::consts::FRAC_1_SQRT_2
        } else {
            self.gain
        };
        let flat = self.contour.is_flat(self.age, self.age + run) && self.age >= self.fade_in.frames();
        if flat {
            self.mix(block, at, run, level, None);
        } else {
            let mut gains = [0.0f32; STRETCH];
            let gains = &mut gains[..run];
            self.contour.fill(self.age, gains);
            self.soften_start(gains);
            gains.iter_mut().for_each(|gain| *gain *= level);
            self.mix(block, at, run, level, Some(gains));
        }
        self.age += run;
    }

    /// Adds so many frames at `gains`, or all of them at `level`.
    fn mix(&mut self, block: &mut [&mut [f32]], at: usize, run: usize, level: f32, gains: Option<&[f32]>) {
        let from = self.skipped + self.age;
        for (side, out) in block.iter_mut().enumerate() {
            let source = &self.audio.channels[side.min(self.audio.channels.len() - 1)][from..from + run];
            let out = &mut out[at..at + run];
            match (&mut self.dull, gains) {
                (Some(dull), gains) => dull.add(side, source, gains, level, out),
                (None, None) => out
                    .iter_mut()
                    .zip(source)
                    .for_each(|(out, sample)| *out += level * sample),
                (None, Some(gains)) => out
                    .iter_mut()
                    .zip(source)
                    .zip(gains)
                    .for_each(|((out, sample), gain)| *out += gain * sample),
            }
        }
    }

    fn soften_start(&self, gains: &mut [f32]) {
        let faded = self.fade_in.frames().saturating_sub(self.age);
        for (n, gain) in gains.iter_mut().enumerate().take(faded) {
            *gain *= self.fade_in.gain(self.age + n);
        }
    }
}

/// The filter that makes a soft hit duller: one pole, 6 dB an octave, as a softer beater's contact does [practice].
#[derive(Debug, Clone)]
pub(super) struct Dull {
    /// What each frame takes of the sound.
    pub share: f64,
    state: [f64; 2],
}

impl Dull {
    /// Octaves by which the softest hit's treble comes down at `dark` 100 percent.
    const REACH: f64 = 7.0;
    /// Where the treble of the hardest hit ends, Hz.
    const TOP: f64 = 20_000.0;

    /// The filter for a velocity and so many octaves of treble less besides; none for the hardest hit without them, which
    /// sounds as recorded.
    pub(super) fn new(dark: f64, velocity: f64, besides: f64, rate: u32) -> Option<Dull> {
        let octaves = Dull::REACH * dark * (1.0 - velocity / 127.0) + besides;
        if octaves <= 0.0 {
            return None;
        }
        let corner = Dull::TOP * libm::exp2(-octaves);
        let share = 1.0 - libm::exp(-std::f64::consts::TAU * corner / f64::from(rate));
        Some(Dull { share, state: [0.0; 2] })
    }

    /// Adds one side of a sound, filtered, at `gains` or else at `level`.
    pub(super) fn add(&mut self, side: usize, source: &[f32], gains: Option<&[f32]>, level: f32, out: &mut [f32]) {
        let mut state = self.state[side];
        for (n, (out, sample)) in out.iter_mut().zip(source).enumerate() {
            state += self.share * (f64::from(*sample) - state);
            *out += state as f32 * gains.map_or(level, |gains| gains[n]);
        }
        #[cfg(test)]
        FILTERED.set(FILTERED.get() + out.len());
        // What has faded beyond hearing is set to nothing: a denormal would slow every frame after it.
        self.state[side] = if state.abs() < 1e-30 { 0.0 } else { state };
    }
}

#[cfg(test)]
thread_local! {
    /// Frames that a thread has filtered.
    pub static FILTERED: std::cell::Cell<usize> = const { std::cell::Cell::new(0) };
}
