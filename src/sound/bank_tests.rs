use proptest::prelude::*;

use super::super::{Player, Rounds};
use super::*;
use crate::kit::Kit;
use crate::loopfile::{self, Changes, Draft};
use crate::score;

/// A low rate keeps it quick.
const RATE: u32 = 8_000;

/// A loop with its score and its recordings.
pub(crate) struct Work {
    pub song: Loop,
    pub score: Score,
    pub recordings: Vec<Option<Arc<Recording>>>,
    // The kit's folder goes with it.
    _folder: tempfile::TempDir,
}

/// A mono WAV of 32-bit floats: noise that swells and falls, with a loop in a `smpl` chunk where it is asked for.
fn wav(seconds: usize, held: bool) -> Vec<u8> {
    let mut state = 1_u32;
    let samples = (0..seconds * RATE as usize).flat_map(|frame| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let level = 0.6 + 0.4 * libm::cos(frame as f64 / 900.0) as f32;
        (level * ((state >> 8) as f32 / 8_388_608.0 - 1.0)).to_le_bytes()
    });
    let samples: Vec<u8> = samples.collect();
    let mut chunks = b"WAVEfmt \x10\0\0\0\x03\0\x01\0".to_vec();
    chunks.extend(RATE.to_le_bytes());
    chunks.extend((4 * RATE).to_le_bytes());
    chunks.extend([4, 0, 32, 0]);
    if held {
        chunks.extend(b"smpl\x3C\0\0\0");
        let (first, last) = (RATE / 4, RATE / 2 - 1);
        for number in [0, 0, 0, 60, 0, 0, 0, 1, 0, 0, 0, first, last, 0, 0] {
            chunks.extend(number.to_le_bytes());
        }
    }
    chunks.extend(b"data");
    chunks.extend((samples.len() as u32).to_le_bytes());
    chunks.extend(samples);
    let mut file = b"RIFF".to_vec();
    file.extend((chunks.len() as u32).to_le_bytes());
    file.extend(chunks);
    file
}

/// Reads a loop whose kit holds a `kick`, a `snare`, a `bell` that can be held, each so long.
pub(crate) fn work(text: &str, seconds: usize) -> Work {
    let folder = tempfile::tempdir().expect("a folder");
    for (name, held) in [("kick", false), ("snare", false), ("bell_C4", true)] {
        let file = folder.path().join(format!("{name}.wav"));
        std::fs::write(file, wav(seconds, held)).expect("a file");
    }
    let file = folder.path().join("loop.toml");
    std::fs::write(&file, text).expect("a file");
    let draft = match loopfile::read(&file, &Changes::default()) {
        Ok(Draft::Loop(draft)) => draft,
        Ok(_) => panic!("no form was asked for"),
        Err(problems) => panic!("{text}\n{problems:?}"),
    };
    let kit = Kit::open(draft.kits(), &[]).expect("the kit opens");
    let song = draft.resolve(kit.defaults());
    let score = score::write(&song, kit.index(), None).expect("the kit has every piece");
    let recordings = kit.load(&score.takes(&song), RATE).expect("they are read");
    Work {
        song,
        score,
        recordings,
        _folder: folder,
    }
}

impl Work {
    /// How its time goes, with so many rounds where it is a line.
    pub(crate) fn time(&self, rounds: u32) -> Rounds {
        let length = self.score.round * f64::from(RATE);
        match self.song.ending {
            loopfile::Ending::Repeat => Rounds::Circle {
                frames: length.round() as usize,
            },
            _ => Rounds::Line { rounds, length },
        }
    }

    /// Every part's dry audio, bit by bit, for as long as anybody hears it.
    fn played(&self, bank: &Bank, time: Rounds) -> Vec<Vec<Vec<u32>>> {
        let play = |part: usize| {
            let mut player = Player::new(&self.song, &self.score, part, bank, time, RATE, 0);
            let frames = match (time, self.song.ending) {
                (Rounds::Circle { frames }, _) => frames,
                (Rounds::Line { rounds, length }, loopfile::Ending::Damp) => (f64::from(rounds) * length) as usize + 64,
                _ => player.end(),
            };
            let mut sides = vec![vec![0.0; frames]; player.channels()];
            player.fill(&mut sides.iter_mut().map(Vec::as_mut_slice).collect::<Vec<_>>());
            sides
                .iter()
                .map(|side| side.iter().map(|x: &f32| x.to_bits()).collect())
                .collect()
        };
        (0..self.song.parts.len()).map(play).collect()
    }

    /// The bank as it would be with every sound made to its end, and a held one for very long.
    fn whole(&self, time: Rounds) -> Bank {
        let extent = Extent::of(&self.song, time, RATE);
        Bank::fill_by(&self.song, &self.score, &self.recordings, extent, |name, _, _| {
            let recording = self.recordings[name.take]
                .as_ref()
                .expect("it was read")
                .version(name.trim);
            let needed = if name.held { 30 * RATE as usize } else { WHOLE };
            let pitches = Pitches::new(&recording.audio, name.speed());
            (made(recording, name, length(recording, name, needed), &pitches), None)
        })
    }
}

/// A bar of 0.2 s of a kick that is heard for 130 ms.
fn brief(more: &str) -> String {
    format!(
        "[loop]\ntempo = 300\nbars = 1\nmetre = \"1/4\"\n[tab]\nall = \"kick xxxx\"\n[[part]]\nname = \"kick\"\n\
         envelope = {{ hold = 100, decay = 25 }}\n{more}\n"
    )
}

#[test]
fn only_what_is_audible_is_made() {
    // 130 ms are 1,040 frames, 1,840 with those before the start; rounded up to eighths of a power of two.
    for (more, most) in [
        ("", 0),
        ("tune = -24", 1152),
        ("tune = 24", 1152),
        ("reverse = true", 1152),
        ("tune = -24\nstart = 100", 1920),
        ("tune = -24\nvary = { tune = 3 }", 4 * 1152),
    ] {
        let work = work(&brief(more), 20);
        let time = work.time(1);
        let bank = Bank::fill(
            &work.song,
            &work.score,
            &work.recordings,
            Extent::of(&work.song, time, RATE),
        );
        assert!(bank.frames_made() <= most, "{more}: {} frames", bank.frames_made());
        assert!(work.whole(time).frames_made() >= 10 * most, "{more}");
    }
}

#[test]
fn what_a_choke_or_a_damped_end_cuts_is_not_made() {
    let text = |ending: &str, choke: &str| {
        format!(
            "[loop]\ntempo = 120\nbars = 1\nending = \"{ending}\"\n[tab]\nall = \"kick x-x-x-x-\"\n[[part]]\nname = \"kick\"\n\
             tune = -12\n{choke}\n"
        )
    };
    let made = |ending: &str, choke: &str, rounds: u32| {
        let work = work(&text(ending, choke), 20);
        let extent = Extent::of(&work.song, work.time(rounds), RATE);
        Bank::fill(&work.song, &work.score, &work.recordings, extent).frames_made()
    };
    let all = 40 * RATE as usize;
    assert_eq!(made("repeat", "", 1), all, "a loop that repeats plays all of it");
    assert_eq!(made("let ring", "", 1), all);
    // Half a second and its fade; a bar of two seconds and what strips may ask for ahead.
    assert_eq!(made("repeat", "choke = \"a\"", 1), 4096);
    assert_eq!(made("damp", "", 1), 32_768);
    assert_eq!(made("damp", "", 3), 65_536);
    assert_eq!(made("let ring", "choke = \"a\"", 1), all, "the last one rings");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 32, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_is_audible_is_the_same_to_the_bit(
        ending in prop::sample::select(vec!["repeat", "let ring", "damp"]),
        (rounds, tempo) in (1_u32..3, prop::sample::select(vec![60, 137, 400])),
        (tune, vary) in (prop::sample::select(vec![-24.0, -7.3, 0.0, 12.0, 31.0]), prop::sample::select(vec![0.0, 1.0])),
        start in prop::sample::select(vec![0, 40, 1500]),
        envelope in prop::sample::select(vec!["", "envelope = { attack = 5, hold = 40, decay = 90 }"]),
        (reverse, choke, trim, dark) in (any::<bool>(), any::<bool>(), any::<bool>(), any::<bool>()),
        release in prop::sample::select(vec![0, 300]),
        (bell, bounds) in prop::sample::select(vec![
            ("C4 - G4 C3", ""),
            ("C4:scoop - G4:slide:vibrato C3:legato:fall", ""),
            ("C4:dead G4:bend=+2 - C3:legato", "length = \"off\"\nreverse = true"),
            ("C4:vibrato G4:slide - C3:legato:slide=50ms", "length = \"off\"\nstart = 30"),
        ]),
    ) {
        let choke = if choke { "choke = \"a\"" } else { "" };
        let dark = if dark { "dark = 60\nvelocity = \"30-110\"" } else { "" };
        let text = format!(
            "[loop]\ntempo = {tempo}\nbars = 1\nending = \"{ending}\"\n[tab]\nall = \"\"\"\nkick x-x- xb--\nsnare --x- x-xx\n\"\"\"\n\
             [[part]]\nname = \"kick\"\ntune = {tune}\nvary = {{ tune = {vary}, start = 20 }}\nstart = {start}\nreverse = {reverse}\n\
             trim = {trim}\n{envelope}\n{choke}\n{dark}\n[[part]]\nname = \"snare\"\n{choke}\n\
             [[part]]\nname = \"bell\"\nnotes = \"{bell}\"\nrelease = {release}\n{bounds}\n"
        );
        let work = work(&text, 2);
        let time = work.time(rounds);
        let bank = Bank::fill(&work.song, &work.score, &work.recordings, Extent::of(&work.song, time, RATE));
        prop_assert!(work.played(&bank, time) == work.played(&work.whole(time), time), "{text}");
    }
}

#[test]
fn equal_bends_share_a_sound_and_others_do_not() {
    let sounds = |notes: &str| {
        let text = format!("[loop]\ntempo = 120\nbars = 1\n[[part]]\nname = \"bell\"\nnotes = \"{notes}\"\n");
        let work = work(&text, 1);
        let extent = Extent::of(&work.song, work.time(1), RATE);
        Bank::fill(&work.song, &work.score, &work.recordings, extent)
            .sounds
            .len()
    };
    assert_eq!(sounds("G4 - G4 -"), 1);
    assert_eq!(sounds("G4 G4:scoop=1,50ms G4:scoop=1,50ms G4"), 2);
    assert_eq!(
        sounds("G4:scoop=1,50ms G4:scoop=1,51ms G4:scoop=2,50ms A4:scoop=1,50ms"),
        4
    );
}

proptest! {
    #[test]
    fn no_more_than_an_eighth_is_made_beyond_what_is_needed(frames in 1_usize..1 << 40) {
        let made = rounded(frames);
        prop_assert!(made >= frames && made - frames <= frames / 8, "{frames}: {made}");
        prop_assert_eq!(rounded(made), made);
    }
}

#[test]
fn of_what_is_not_heard_a_frame_is_made_and_of_what_is_whole_all() {
    assert_eq!((rounded(0), rounded(WHOLE)), (1, WHOLE));
}
