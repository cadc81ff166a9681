//! Sounds that several hits play equally dull: each is filtered once, and not once a hit.

use std::collections::BTreeMap;
use std::sync::{Arc, OnceLock};

use super::voice::{Dull, STRETCH};
use crate::base::audio::Audio;

/// Bytes of such sounds that a part may hold at most.
const MOST: usize = 8 << 20;

/// What a hit plays through its filter.
#[derive(Clone)]
pub(super) struct Duty {
    /// The sound.
    pub audio: Arc<Audio>,
    /// Frames of it that are left out before the hit begins.
    pub start: usize,
    /// Frames of it that are heard.
    pub frames: usize,
    /// The filter at rest.
    pub dull: Dull,
}

/// A sound as its hits play it, made when the first of them is heard.
pub(super) struct ToneFilter {
    duty: Duty,
    made: OnceLock<Arc<Audio>>,
}

impl ToneFilter {
    /// The sound: as long as the longest of its hits, each frame where the undulled sound has it.
    pub(super) fn audio(&self) -> &Arc<Audio> {
        self.made.get_or_init(|| {
            let Duty {
                audio,
                start,
                frames,
                dull,
            } = &self.duty;
            let side = |(side, source): (usize, &Vec<f32>)| {
                let mut out = vec![0.0; start + frames];
                let mut dull = dull.clone();
                let runs = out[*start..].chunks_mut(STRETCH).zip(source[*start..].chunks(STRETCH));
                runs.for_each(|(out, source)| dull.add(side, &source[..out.len()], None, 1.0, out));
                out
            };
            Arc::new(Audio {
                channels: audio.channels.iter().enumerate().map(side).collect(),
                rate: audio.rate,
            })
        })
    }
}

/// For each hit the sound that it shares with others; none where it is alone, or where there is no room for more.
pub(super) fn shared(duties: &[Option<Duty>]) -> Vec<Option<Arc<ToneFilter>>> {
    // A sound's place in memory tells it from the others; the order is that of the first hits.
    let key = |duty: &Duty| (Arc::as_ptr(&duty.audio) as usize, duty.start, duty.dull.share.to_bits());
    let mut alike: BTreeMap<(usize, usize, u64), Vec<usize>> = BTreeMap::new();
    for (hit, duty) in duties.iter().enumerate() {
        duty.iter()
            .for_each(|duty| alike.entry(key(duty)).or_default().push(hit));
    }
    let mut groups: Vec<Vec<usize>> = alike.into_values().filter(|hits| hits.len() > 1).collect();
    groups.sort_unstable();
    let mut shared = vec![None; duties.len()];
    let mut bytes = 0;
    for hits in groups {
        let longest = hits.iter().filter_map(|hit| duties[*hit].as_ref());
        let Some(duty) = longest.max_by_key(|duty| duty.frames) else {
            continue;
        };
        bytes += duty.audio.channels.len() * (duty.start + duty.frames) * size_of::<f32>();
        if bytes > MOST {
            break;
        }
        let dulled = Arc::new(ToneFilter {
            duty: duty.clone(),
            made: OnceLock::new(),
        });
        hits.iter().for_each(|hit| shared[*hit] = Some(dulled.clone()));
    }
    shared
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sound::envelope::Contour;
    use crate::sound::voice::{FadeIn, Voice};

    fn noise(frames: usize) -> Arc<Audio> {
        let mut state = 1_u32;
        let mut next = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 8) as f32 / 8_388_608.0 - 1.0
        };
        Arc::new(Audio {
            channels: vec![(0..frames).map(|_| next()).collect()],
            rate: 48_000,
        })
    }

    fn played(audio: &Arc<Audio>, start: usize, dull: Option<Dull>, frames: usize) -> Vec<f32> {
        let contour = Arc::new(Contour::new(None, None, None, 48_000));
        let fade_in = FadeIn::of(start, false, 48_000);
        let mut voice = Voice::new(audio.clone(), (start, fade_in), 0.7, contour, dull);
        let mut out = vec![0.0; frames];
        voice.add(&mut [&mut out]);
        out
    }

    #[test]
    fn what_is_shared_sounds_to_the_bit_as_what_is_filtered_hit_by_hit() {
        let audio = noise(5000);
        let dull = Dull::new(0.5, 60.0, 0.0, 48_000).expect("a filter");
        let duty = |start: usize, frames: usize| {
            Some(Duty {
                audio: audio.clone(),
                start,
                frames,
                dull: dull.clone(),
            })
        };
        let duties = [
            duty(0, 3000),
            duty(0, 5000),
            None,
            duty(70, 4930),
            duty(70, 100),
            duty(9, 9),
        ];
        let shared = shared(&duties);
        assert!(shared[2].is_none() && shared[5].is_none(), "one alone shares nothing");
        for (hit, start) in [(0, 0), (1, 0), (3, 70), (4, 70)] {
            let dulled = shared[hit].as_ref().expect("a shared sound").audio();
            assert_eq!(dulled.frames(), 5000);
            let each = played(&audio, start, Some(dull.clone()), 5000 - start);
            assert!(played(dulled, start, None, 5000 - start) == each, "hit {hit}");
        }
    }

    #[test]
    fn there_is_a_bound_to_what_is_held() {
        let audio = noise(900_000);
        let duty = |share: f64| {
            let dull = Dull::new(share, 60.0, 0.0, 48_000).expect("a filter");
            Some(Duty {
                audio: audio.clone(),
                start: 0,
                frames: 900_000,
                dull,
            })
        };
        let duties = [0.2, 0.4, 0.6, 0.2, 0.4, 0.6].map(duty);
        let kept = shared(&duties).iter().map(Option::is_some).collect::<Vec<_>>();
        assert_eq!(kept, [true, true, false, true, true, false]);
    }
}
