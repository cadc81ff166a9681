use super::*;
use crate::sound::bank::tests::work;
use crate::sound::extent::Extent;
use crate::sound::voice::FILTERED;

const RATE: u32 = 8_000;

/// Every hit of a short loop has a filter of its own and rings for hundreds of rounds.
const DENSE: &str = "[loop]\ntempo = 400\nbars = 1\nmetre = \"1/16\"\n[tab]\nall = \"kick xxxxxxxx\"\n[[part]]\nname = \"kick\"\n\
                     dark = 100\nvelocity = \"1-127\"\n";

#[test]
fn what_rings_for_many_rounds_is_gone_through_once() {
    let work = work(DENSE, 20);
    let time = work.time(1);
    let bank = Bank::fill(
        &work.song,
        &work.score,
        &work.recordings,
        Extent::of(&work.song, time, RATE),
    );
    FILTERED.set(0);
    let player = Player::new(&work.song, &work.score, 0, &bank, time, RATE, 0);
    let (hits, sound) = (player.strikes.len(), 20 * RATE as usize);
    assert!(
        player.voices.len() > 100 * hits,
        "{} voices of {hits} hits",
        player.voices.len()
    );
    assert!(
        FILTERED.get() > 0 && FILTERED.get() <= 2 * hits * sound,
        "{} frames",
        FILTERED.get()
    );
}

#[test]
fn a_circle_sounds_alike_wherever_it_is_entered() {
    let work = work(DENSE, 1);
    let time = work.time(1);
    let Rounds::Circle { frames } = time else {
        panic!("it repeats");
    };
    let bank = Bank::fill(
        &work.song,
        &work.score,
        &work.recordings,
        Extent::of(&work.song, time, RATE),
    );
    let play = |from: i64, frames: usize| {
        let mut out = vec![0.0; frames];
        Player::new(&work.song, &work.score, 0, &bank, time, RATE, from).fill(&mut [&mut out]);
        out
    };
    let whole = play(0, 3 * frames);
    for from in [1, 7, frames - 1, frames, frames + 5] {
        let cut = play(from as i64, frames);
        let apart = cut
            .iter()
            .zip(&whole[from..])
            .map(|(a, b)| (a - b).abs())
            .fold(0.0, f32::max);
        assert!(apart == 0.0, "from {from}: {apart}");
    }
}
