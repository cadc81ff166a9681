//! A hit's envelope: attack, hold, decay, and the two ways in which it ends.

use crate::loopfile::Envelope;

/// Seconds in which a hit fades once its decay has fallen 60 dB, or once another hit of its choke group stops it.
const FADE: f64 = 0.005;

/// Frames that share one exact value of the decay; between them it runs on by a table.
const STRIDE: usize = 64;

/// Frames over which a hit fades, along a line, once another of its choke group stops it.
pub(crate) fn choke_frames(rate: u32) -> usize {
    (FADE * f64::from(rate)) as usize
}

/// The gain of a hit over its life, in frames from its beginning.
#[derive(Debug, Clone)]
pub(super) struct Contour {
    attack: f64,
    /// Where the decay begins.
    fall: f64,
    /// The natural logarithm of the gain that one frame of decay loses; 0 without decay.
    slope: f64,
    /// `exp(slope * n)` for the frames of one stride.
    table: [f32; STRIDE],
    ends: Ends,
}

/// How a hit ends, in frames from its beginning.
#[derive(Debug, Clone)]
pub(super) struct Ends {
    /// Where a fade to silence begins, if one does.
    fade_from: Option<usize>,
    fade: usize,
    /// Where a release begins, if one does, and the frames that it takes.
    release: Option<(usize, usize)>,
}

impl Ends {
    /// As for [`Contour::new`].
    pub(super) fn new(
        envelope: Option<&Envelope>,
        stopped: Option<usize>,
        released: Option<(usize, f64)>,
        rate: u32,
    ) -> Ends {
        let choked = choke_frames(rate);
        let rate = f64::from(rate);
        let decayed = |e: &Envelope| Some(((e.attack + e.hold + e.decay?) * rate).round() as usize);
        let spent = envelope.and_then(decayed);
        Ends {
            fade_from: [spent, stopped].into_iter().flatten().min(),
            fade: choked,
            release: released.map(|(from, seconds)| (from, (seconds.max(FADE) * rate) as usize)),
        }
    }

    /// The frame from which the hit is silent, where its envelope, its release or a choke ends it.
    pub(super) fn frame(&self) -> Option<usize> {
        let faded = self.fade_from.map(|from| from + self.fade);
        let released = self.release.map(|(from, fade)| from + fade);
        faded.into_iter().chain(released).min()
    }
}

impl Contour {
    /// The contour of an envelope, or of none, at a rate, for a hit that is stopped after so many frames if at all, and
    /// released after `released.0` frames to fade over `released.1` seconds.
    pub(super) fn new(
        envelope: Option<&Envelope>,
        stopped: Option<usize>,
        released: Option<(usize, f64)>,
        rate: u32,
    ) -> Contour {
        let ends = Ends::new(envelope, stopped, released, rate);
        let rate = f64::from(rate);
        let (attack, hold, decay) = envelope.map_or((0.0, 0.0, None), |e| (e.attack, e.hold, e.decay));
        // 60 dB are a factor of 1000.
        let slope = decay.map_or(0.0, |decay| -libm::log(1000.0) / (decay * rate));
        let mut table = [1.0; STRIDE];
        if slope != 0.0 {
            table
                .iter_mut()
                .enumerate()
                .for_each(|(n, gain)| *gain = libm::exp(slope * n as f64) as f32);
        }
        Contour {
            attack: attack * rate,
            fall: (attack + hold) * rate,
            slope,
            table,
            ends,
        }
    }

    /// The frame from which the hit is silent, where its envelope, its release or a choke ends it.
    pub(super) fn end(&self) -> Option<usize> {
        self.ends.frame()
    }

    /// True where the gain is 1 from one frame to another.
    pub(super) fn is_flat(&self, from: usize, to: usize) -> bool {
        from as f64 >= self.attack
            && (self.slope == 0.0 || to as f64 <= self.fall)
            && self.ends.fade_from.is_none_or(|fade| to <= fade)
            && self.ends.release.is_none_or(|(from, _)| to <= from)
    }

    /// Fills `gains` with the gains of the frames from `from` on.
    pub(super) fn fill(&self, from: usize, gains: &mut [f32]) {
        let mut done = 0;
        while done < gains.len() {
            let frame = from + done;
            let run = (STRIDE - frame % STRIDE).min(gains.len() - done);
            self.stride(frame, &mut gains[done..done + run]);
            done += run;
        }
    }

    /// Fills gains that lie within one stride.
    fn stride(&self, from: usize, gains: &mut [f32]) {
        let first = from - from % STRIDE;
        if self.slope != 0.0 && first as f64 >= self.fall {
            let base = libm::exp(self.slope * (first as f64 - self.fall)) as f32;
            let table = &self.table[from % STRIDE..];
            gains.iter_mut().zip(table).for_each(|(gain, step)| *gain = base * step);
        } else {
            gains
                .iter_mut()
                .enumerate()
                .for_each(|(n, gain)| *gain = self.early((from + n) as f64));
        }
        if let Some(fade) = self.ends.fade_from
            && from + gains.len() > fade
        {
            for (n, gain) in gains.iter_mut().enumerate() {
                let into = (from + n).saturating_sub(fade) as f32;
                *gain *= (1.0 - into / self.ends.fade.max(1) as f32).max(0.0);
            }
        }
        self.fade_released(from, gains);
    }

    /// The fade of a note that ends: the square of the time that is left, near to even steps in dB, and silence at the end.
    fn fade_released(&self, from: usize, gains: &mut [f32]) {
        let Some((begins, fade)) = self.ends.release.filter(|(begins, _)| from + gains.len() > *begins) else {
            return;
        };
        for (n, gain) in gains.iter_mut().enumerate() {
            let into = (from + n).saturating_sub(begins) as f32;
            let left = (1.0 - into / fade.max(1) as f32).max(0.0);
            *gain *= left * left;
        }
    }

    /// The gain in attack and hold, and where the decay sets in within a stride.
    fn early(&self, frame: f64) -> f32 {
        if frame < self.attack {
            (frame / self.attack) as f32
        } else if frame <= self.fall || self.slope == 0.0 {
            1.0
        } else {
            libm::exp(self.slope * (frame - self.fall)) as f32
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gains(contour: &Contour, frames: usize) -> Vec<f32> {
        let mut gains = vec![0.0; frames];
        contour.fill(0, &mut gains);
        gains
    }

    #[test]
    fn a_decay_is_the_time_to_fall_60_db() {
        let envelope = Envelope {
            attack: 0.01,
            hold: 0.02,
            decay: Some(0.25),
        };
        let contour = Contour::new(Some(&envelope), None, None, 48_000);
        let gains = gains(&contour, 20_000);
        let db = |frame: usize| 20.0 * gains[frame].log10();
        assert_eq!(gains[0], 0.0);
        assert!((gains[240] - 0.5).abs() < 1e-6, "half way up its attack");
        assert!(gains[480..1440].iter().all(|gain| *gain == 1.0), "its hold is flat");
        assert!((db(1440 + 6000) + 30.0).abs() < 0.01 && (db(1440 + 11_999) + 60.0).abs() < 0.01);
        assert_eq!(gains[1440 + 12_000 + 240], 0.0, "fades within 5 ms once 60 dB down");
    }

    #[test]
    fn a_release_fades_from_its_moment_on() {
        let contour = Contour::new(None, None, Some((1_000, 0.1)), 48_000);
        let gains = gains(&contour, 6_000);
        assert!(contour.is_flat(0, 1_000) && !contour.is_flat(0, 1_001));
        assert!(gains[..=1_000].iter().all(|gain| *gain == 1.0));
        assert!((gains[1_000 + 2_400] - 0.25).abs() < 1e-6, "12 dB down half way");
        assert_eq!((gains[5_800], contour.end()), (0.0, Some(5_800)));
    }

    #[test]
    fn a_release_of_no_time_takes_5_ms() {
        assert_eq!(Contour::new(None, None, Some((10, 0.0)), 48_000).end(), Some(250));
    }

    #[test]
    fn blocks_of_any_length_give_the_same_gains() {
        let envelope = Envelope {
            attack: 0.001,
            hold: 0.0,
            decay: Some(0.1),
        };
        let contour = Contour::new(Some(&envelope), Some(2_000), None, 48_000);
        let whole = gains(&contour, 3_000);
        let mut pieces = Vec::new();
        for (from, to) in [(0, 1), (1, 700), (700, 1_999), (1_999, 3_000)] {
            let mut piece = vec![0.0; to - from];
            contour.fill(from, &mut piece);
            pieces.extend(piece);
        }
        assert_eq!(whole, pieces);
        assert_eq!(whole[2_240], 0.0, "a choked hit is gone 5 ms later");
    }
}
