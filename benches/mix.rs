//! What each effect of a strip costs: ten seconds of stereo, drums and noise, in blocks of 1024 frames.
//!
//! `cargo bench --bench mix`; criterion's throughput is in stereo frames a second.

use std::hint::black_box;
use std::time::Duration;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use pressroll::internals::loopfile::{Bell, Compress, Drive, Duck};
use pressroll::internals::mix::{
    Ceiling, Compressor, Curve, Ducker, Effect, Eq, Filter, Follower, Saturator, Spread, Width,
};

const RATE: u32 = 48_000;
const FRAMES: usize = 480_000;
const BLOCK: usize = 1024;

/// Decaying hits, each a low tone and noise, four a second, peaks near `peak`.
fn drums(peak: f32) -> Vec<Vec<f32>> {
    let mut state = 1_u32;
    let mut channels = vec![Vec::new(); 2];
    for frame in 0..FRAMES {
        let t = (frame % 12_000) as f64 / f64::from(RATE);
        let tone = libm::sin(std::f64::consts::TAU * 60.0 * t) * libm::exp(-t * 10.0);
        for channel in &mut channels {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let noise = f64::from(state) / f64::from(u32::MAX) * 2.0 - 1.0;
            let x = 0.7 * tone + 0.3 * noise * libm::exp(-t * 25.0);
            channel.push(peak * x as f32);
        }
    }
    channels
}

fn measure(c: &mut Criterion, name: &str, signal: &[Vec<f32>], mut effect: impl FnMut(&mut [&mut [f32]], usize)) {
    let mut group = c.benchmark_group("mix");
    group.throughput(Throughput::Elements(FRAMES as u64));
    group.bench_function(name, |b| {
        let mut channels = signal.to_vec();
        b.iter(|| {
            for (channel, from) in channels.iter_mut().zip(signal) {
                channel.copy_from_slice(from);
            }
            let (left, right) = channels.split_at_mut(1);
            let blocks = left[0].chunks_mut(BLOCK).zip(right[0].chunks_mut(BLOCK));
            for (index, (left, right)) in blocks.enumerate() {
                effect(&mut [left, right], index * BLOCK);
            }
            black_box(&channels);
        });
    });
    group.finish();
}

fn effects(c: &mut Criterion) {
    let loud = drums(1.0);
    let bell = |at: f64| Bell {
        at,
        gain_db: -3.0,
        width: 1.0,
    };
    measure(c, "copy", &loud, |_, _| {});
    let mut filter = Filter::new(&Curve::LowCut(80.0), RATE, 2);
    measure(c, "filter", &loud, |block, _| filter.process(block));
    let mut eq = Eq::new(&[bell(100.0), bell(350.0), bell(3000.0)], RATE, 2);
    measure(c, "three bells", &loud, |block, _| eq.process(block));
    let settings = Compress {
        threshold_db: -18.0,
        ratio: 2.5,
        attack: 0.02,
        release: 0.15,
        knee_db: 6.0,
        makeup_db: 0.0,
        blend: 0.6,
    };
    let mut compressor = Compressor::new(&settings, RATE);
    measure(c, "compressor", &loud, |block, _| compressor.process(block));
    let settings = Drive {
        amount_db: 6.0,
        blend: 1.0,
        high_cut: None,
    };
    let mut saturator = Saturator::new(&settings, RATE, 2);
    measure(c, "saturator", &loud, |block, _| saturator.process(block));
    let settings = Duck {
        by: 0,
        depth_db: 6.0,
        release: 0.15,
    };
    let (mut follower, mut ducker) = (Follower::new(settings.release, RATE), Ducker::new(&settings));
    let mut envelope = Vec::new();
    measure(c, "duck, with its follower", &loud, |block, _| {
        follower.follow(block, &mut envelope);
        ducker.process(block, &envelope, 1.0);
    });
    let mut spread = Spread::new(0.0103, RATE, 2);
    measure(c, "spread", &loud, |block, _| spread.process(block));
    let mut width = Width::new(0.7);
    measure(c, "width", &loud, |block, _| width.process(block));
    for (name, peak) in [
        ("ceiling, nothing over", 0.7),
        ("ceiling, 3 dB over", 1.26),
        ("ceiling, 9 dB over", 2.5),
    ] {
        let mut ceiling = Ceiling::new(-1.0, RATE, 2);
        measure(c, name, &drums(peak), |block, _| ceiling.process(block));
    }
}

criterion_group! {
    name = benches;
    config = Criterion::default()
        .warm_up_time(Duration::from_millis(200))
        .measurement_time(Duration::from_millis(800))
        .sample_size(10);
    targets = effects
}
criterion_main!(benches);
