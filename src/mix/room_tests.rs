use realfft::RealFftPlanner;

use super::*;

const RATE: u32 = 48_000;

fn room(size: f64, decay: f64, damping: f64) -> Room {
    Room {
        size,
        decay,
        damping,
        predelay: 0.0,
        low_cut: None,
    }
}

/// What each side gives back for a send that is the same at both.
fn mono(response: &Response) -> [Vec<f32>; 2] {
    let Some(cross) = &response.cross else {
        return response.direct.clone();
    };
    [0, 1].map(|side| {
        let pair = response.direct[side].iter().zip(&cross[1 - side]);
        pair.map(|(near, far)| near + far).collect()
    })
}

/// One octave of a response, by the magnitude of a Butterworth band-pass of the third order, as octave filters of
/// IEC 61260 commonly are.
fn octave(response: &[f32], centre: f64) -> Vec<f64> {
    let points = (2 * response.len()).next_power_of_two();
    let mut planner = RealFftPlanner::<f64>::new();
    let (forward, inverse) = (planner.plan_fft_forward(points), planner.plan_fft_inverse(points));
    let mut time = forward.make_input_vec();
    for (into, sample) in time.iter_mut().zip(response) {
        *into = f64::from(*sample);
    }
    let mut spectrum = forward.make_output_vec();
    forward.process(&mut time, &mut spectrum).expect("measured");
    for (bin, value) in spectrum.iter_mut().enumerate() {
        let hertz = (bin as f64 * f64::from(RATE) / points as f64).max(1.0);
        let off = (hertz / centre - centre / hertz) * std::f64::consts::SQRT_2;
        *value /= (1.0 + libm::pow(off, 6.0)).sqrt();
    }
    spectrum[0].im = 0.0;
    spectrum[points / 2].im = 0.0;
    inverse.process(&mut spectrum, &mut time).expect("measured");
    time.truncate(response.len());
    time
}

/// T30 by Schroeder's backward integration, ISO 3382-1: the line through -5 to -35 dB, continued to 60 dB.
fn t30(signal: &[f64]) -> f64 {
    let mut left: f64 = signal.iter().map(|s| s * s).sum();
    let whole = left;
    let mut points = Vec::new();
    for (frame, sample) in signal.iter().enumerate() {
        let db = 10.0 * libm::log10(left / whole);
        if (-35.0..=-5.0).contains(&db) {
            points.push((frame as f64 / f64::from(RATE), db));
        }
        left -= sample * sample;
    }
    let count = points.len() as f64;
    let (x, y) = points
        .iter()
        .fold((0.0, 0.0), |(x, y), p| (x + p.0 / count, y + p.1 / count));
    let slope = points.iter().map(|p| (p.0 - x) * (p.1 - y)).sum::<f64>()
        / points.iter().map(|p| (p.0 - x) * (p.0 - x)).sum::<f64>();
    -60.0 / slope
}

#[test]
fn report() {
    for size in [1.5, 3.0, 9.0, 30.0] {
        for decay in [0.2, 0.7, 2.0, 6.0] {
            for damping in [0.0, 0.4, 1.0] {
                let started = std::time::Instant::now();
                let response = synthesise(&room(size, decay, damping), RATE);
                let took = started.elapsed();
                let sides = mono(&response);
                let ts: Vec<String> = [125.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0]
                    .iter()
                    .map(|hz| {
                        let law = match *hz {
                            hz if hz <= 1000.0 => decay,
                            hz => decay * (1.0 - 0.8 * damping * libm::log2(hz / 1000.0) / 3.0),
                        };
                        let [l, r] = [0, 1].map(|s: usize| t30(&octave(&sides[s], *hz)) / law);
                        format!("{l:.2}/{r:.2}")
                    })
                    .collect();
                let correlation = (-48..=48)
                    .map(|lag: i32| {
                        let (a, b) = (&sides[0], &sides[1]);
                        let s: f64 = (0..a.len())
                            .filter_map(|i| {
                                let j = usize::try_from(i as i32 + lag).ok()?;
                                Some(f64::from(a[i]) * f64::from(*b.get(j)?))
                            })
                            .sum();
                        s.abs()
                    })
                    .fold(0.0, f64::max);
                let first = [0, 1].map(|s: usize| sides[s].iter().position(|x| *x != 0.0).unwrap());
                let pe: Vec<String> = response
                    .direct
                    .iter()
                    .chain(response.cross.iter().flatten())
                    .map(|p| format!("{:.2}", p.iter().map(|x| x * x).sum::<f32>()))
                    .collect();
                // early energy spectrum: first 60 ms, dB in octaves
                let spec: Vec<String> = [31.5, 63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0]
                    .iter()
                    .map(|hz| {
                        let e: f64 = octave(&sides[0], *hz).iter().map(|x| x * x).sum();
                        format!("{:.1}", 10.0 * libm::log10(e * 24000.0 / (hz * 0.707)))
                    })
                    .collect();
                println!(
                    "{size} {decay} {damping}: T30 {ts:?} corr {correlation:.2} first {first:?} len {} E {pe:?} oct {spec:?} {took:?}",
                    response.frames()
                );
            }
        }
    }
}
