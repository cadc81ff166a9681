//! What a meter costs: 45.7 s of stereo noise that swells, as long as the bench's sixteen bars.
//!
//! `cargo bench --bench measure`; criterion's throughput is in stereo frames a second.

use std::hint::black_box;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use pressroll::Audio;
use pressroll::internals::measure::{Energies, true_peak_db};

const RATE: u32 = 48_000;
const FRAMES: usize = 2_194_286;

fn noise(mut state: u32) -> Vec<f32> {
    let sample = |frame: usize| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let swell = 0.5 + 0.4 * libm::sin(frame as f64 / 60_000.0);
        (swell * (f64::from(state) / f64::from(u32::MAX) - 0.5)) as f32
    };
    (0..FRAMES).map(sample).collect()
}

fn meters(criterion: &mut Criterion) {
    let audio = Audio {
        channels: vec![noise(1), noise(2)],
        rate: RATE,
    };
    let mut group = criterion.benchmark_group("measure");
    group.throughput(Throughput::Elements(FRAMES as u64)).sample_size(20);
    group.bench_function("loudness", |b| {
        b.iter(|| black_box(Energies::of(&audio).and_then(|energies| energies.lufs(0.0))));
    });
    group.bench_function("true peak", |b| b.iter(|| black_box(true_peak_db(&audio))));
    group.finish();
}

criterion_group!(benches, meters);
criterion_main!(benches);
