//! What rooms, echoes and meters cost for 45.7 s of stereo at 48 kHz: 16 bars of 4/4 at 84 BPM.

use std::hint::black_box;
use std::time::Duration;

use criterion::{BatchSize, BenchmarkId, Criterion, criterion_group, criterion_main};
use pressroll::Audio;
use pressroll::internals::loopfile::{Delay, Room};
use pressroll::internals::measure;
use pressroll::internals::mix::convolution::{self, Shape};
use pressroll::internals::mix::{delay, room};
use rand_pcg::rand_core::Rng;

const RATE: u32 = 48_000;
const FRAMES: usize = 2_194_286;

fn noise(stream: u64) -> Vec<f32> {
    let mut random = rand_pcg::Pcg32::new(1, stream);
    // Swells and falls as a beat does, so that the meters' shortcuts are neither idle nor always taken.
    (0..FRAMES)
        .map(|frame| {
            let beat = (frame % 34_286) as f32 / 34_286.0;
            (random.next_u32() >> 8) as f32 / 8_388_608.0 * (1.0 - beat) * 0.5 - 0.25 * (1.0 - beat)
        })
        .collect()
}

fn send() -> [Vec<f32>; 2] {
    [noise(1), noise(2)]
}

fn hall(decay: f64) -> Room {
    Room {
        size: 9.0,
        decay,
        damping: 0.4,
        predelay: 0.01,
        low_cut: Some(150.0),
    }
}

fn echoes(feedback: f64, time: f64) -> Delay {
    Delay {
        time,
        feedback,
        low_cut: Some(200.0),
        high_cut: Some(6000.0),
        cross: false,
    }
}

fn rooms(c: &mut Criterion) {
    let mut group = c.benchmark_group("room");
    for decay in [0.7, 2.0, 6.0] {
        group.bench_with_input(BenchmarkId::new("synthesise", decay), &decay, |b, decay| {
            b.iter(|| room::synthesise(&hall(*decay), RATE));
        });
    }
    let send = send();
    let mut out = send.clone();
    for decay in [0.7, 2.0, 6.0] {
        let response = room::synthesise(&hall(decay), RATE);
        group.bench_with_input(BenchmarkId::new("convolve", decay), &response, |b, response| {
            b.iter(|| convolution::add(response, &send, Shape::Circle, 1e-3, &mut out));
        });
    }
}

fn delays(c: &mut Criterion) {
    let mut group = c.benchmark_group("delay");
    let send = send();
    for (name, delay) in [
        ("35 percent", echoes(0.35, 0.535_714_285)),
        ("35 percent, whole frames", echoes(0.35, 0.5)),
        ("95 percent", echoes(0.95, 0.178_571_428)),
    ] {
        group.bench_function(name, |b| {
            b.iter_batched_ref(
                || send.clone(),
                |sides| delay::answer(&delay, RATE, sides, Shape::Circle, 1e-3),
                BatchSize::LargeInput,
            );
        });
    }
}

fn meters(c: &mut Criterion) {
    let mut group = c.benchmark_group("measure");
    let audio = Audio {
        channels: send().into(),
        rate: RATE,
    };
    group.bench_function("loudness", |b| b.iter(|| measure::loudness(black_box(&audio))));
    group.bench_function("true peak", |b| b.iter(|| measure::true_peak_db(black_box(&audio))));
    group.bench_function("all figures", |b| b.iter(|| measure::figures(black_box(&audio))));
}

criterion_group! {
    name = spaces;
    config = Criterion::default()
        .sample_size(10)
        .warm_up_time(Duration::from_millis(300))
        .measurement_time(Duration::from_millis(800));
    targets = rooms, delays, meters
}
criterion_main!(spaces);
