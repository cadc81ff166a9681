//! The rooms before the mix, on the loop of sixteen bars beside this file: reading, opening its kit, decoding, writing the
//! score, making its sounds, and playing one part.

use std::hint::black_box;
use std::path::Path;
use std::time::Duration;

use criterion::{Criterion, criterion_group, criterion_main};
use pressroll::Audio;
use pressroll::internals::kit::listen;
use pressroll::internals::kit::{Kit, repitch, resample};
use pressroll::internals::loopfile::{self, Changes, Draft};
use pressroll::internals::score;
use pressroll::internals::sound::{Bank, Extent, Player, Rounds};

const RATE: u32 = 48_000;

fn rooms(criterion: &mut Criterion) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("benches/sixteen-bars.toml");
    let read = || match loopfile::read(&path, &Changes::default()) {
        Ok(Draft::Loop(draft)) => draft,
        _ => panic!("the bench's loop reads"),
    };
    let draft = read();
    let open = || Kit::open(draft.kits(), &[]).expect("the demo kit opens");
    let kit = open();
    let song = draft.resolve(kit.defaults());
    let write = || score::write(&song, kit.index(), None).expect("the kit has every piece");
    let sheet = write();
    let load = || kit.load(&sheet.takes(&song), RATE).expect("the demo kit decodes");
    let recordings = load();
    let frames = (sheet.round * f64::from(RATE)).round() as usize;
    let extent = Extent::of(&song, Rounds::Circle { frames }, RATE);
    let bank = Bank::fill(&song, &sheet, &recordings, extent);

    let mut group = criterion.benchmark_group("rooms");
    group
        .sample_size(10)
        .warm_up_time(Duration::from_millis(300))
        .measurement_time(Duration::from_secs(1));
    group.bench_function("loopfile: read and resolve", |b| {
        b.iter(|| black_box(read()).resolve(kit.defaults()))
    });
    group.bench_function("kit: open", |b| b.iter(open));
    group.bench_function("kit: decode", |b| b.iter(load));
    group.bench_function("score: write", |b| b.iter(write));
    group.bench_function("sound: fill the bank", |b| {
        b.iter(|| Bank::fill(&song, &sheet, &recordings, extent))
    });
    group.bench_function("sound: play the busiest part", |b| {
        let part = (0..sheet.parts.len())
            .max_by_key(|part| sheet.parts[*part].len())
            .expect("a part");
        let mut block = vec![0.0; 16_384];
        b.iter(|| {
            let mut player = Player::new(&song, &sheet, part, &bank, Rounds::Circle { frames }, RATE, 0);
            for _ in 0..frames / block.len() {
                player.fill(&mut [&mut block]);
            }
        });
    });
    let one_shot = &recordings.iter().flatten().next().expect("a recording").audio;
    group.bench_function("kit: resample one take to 44.1 kHz", |b| {
        b.iter(|| resample(one_shot, 44_100))
    });
    group.bench_function("kit: repitch one take by a fifth", |b| {
        b.iter(|| repitch(one_shot, 1.5))
    });
    let note = two_seconds();
    group.bench_function("kit: hear the pitch of 2 s", |b| b.iter(|| listen(&note)));
    group.bench_function("kit: repitch 2 s by a fifth", |b| b.iter(|| repitch(&note, 1.5)));
    group.finish();
}

/// A tone of A2 with eight partials.
fn two_seconds() -> Audio {
    let partial = |at: usize, n: f64| (std::f64::consts::TAU * 110.0 * n * at as f64 / f64::from(RATE)).sin() / n;
    let sample = |at: usize| 0.2 * (1..=8).map(|n| partial(at, f64::from(n))).sum::<f64>() as f32;
    Audio {
        channels: vec![(0..2 * RATE as usize).map(sample).collect()],
        rate: RATE,
    }
}

criterion_group!(benches, rooms);
criterion_main!(benches);
