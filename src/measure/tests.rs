use std::f64::consts::{PI, TAU};

use ebur128::{EbuR128, Mode};

use super::*;

const RATE: u32 = 48_000;

/// Stereo sines at 1 kHz, one after another: level in dBFS and seconds.
fn tones(steps: &[(f64, f64)]) -> Audio {
    let mut side = Vec::new();
    for (db, seconds) in steps {
        let amplitude = libm::exp10(db / 20.0);
        for _ in 0..(seconds * f64::from(RATE)) as usize {
            let at = side.len() as f64 / f64::from(RATE);
            side.push((amplitude * libm::sin(TAU * 1000.0 * at)) as f32);
        }
    }
    Audio {
        channels: vec![side.clone(), side],
        rate: RATE,
    }
}

/// The library's own meter that has heard the audio; none where the meter can't take its rate or channels.
pub(super) fn fed(audio: &Audio, mode: Mode) -> Option<EbuR128> {
    let channels = u32::try_from(audio.channels.len()).ok().filter(|count| *count > 0)?;
    let mut meter = EbuR128::new(channels, audio.rate, mode).ok()?;
    let planes: Vec<&[f32]> = audio.channels.iter().map(Vec::as_slice).collect();
    meter.add_frames_planar_f32(&planes).ok()?;
    Some(meter)
}

fn sine(hertz: f64, amplitude: f64, phase: f64, frames: usize) -> Vec<f32> {
    (0..frames)
        .map(|frame| (amplitude * libm::sin(TAU * hertz * frame as f64 / f64::from(RATE) + phase)) as f32)
        .collect()
}

fn stereo(left: Vec<f32>, right: Vec<f32>) -> Audio {
    Audio {
        channels: vec![left, right],
        rate: RATE,
    }
}

fn noise(stream: u64, frames: usize) -> Vec<f32> {
    use rand_pcg::rand_core::Rng;
    let mut random = rand_pcg::Pcg32::new(1, stream);
    (0..frames)
        .map(|_| (f64::from(random.next_u32()) / 2f64.powi(31) - 1.0) as f32 * 0.5)
        .collect()
}

#[track_caller]
fn near(value: Option<f64>, wanted: f64, within: f64) {
    let value = value.expect("defined");
    assert!((value - wanted).abs() <= within, "{value} is not {wanted} ± {within}");
}

#[test]
fn the_meter_reads_its_calibration_tone() {
    // ITU-R BS.1770-5: a 0 dBFS 997 Hz sine in one front channel reads -3.01 LKFS.
    let tone = sine(997.0, 1.0, 0.0, 10 * 48_000);
    near(loudness(&stereo(tone.clone(), vec![0.0; tone.len()])), -3.01, 0.02);
    let mono = Audio {
        channels: vec![tone],
        rate: RATE,
    };
    near(loudness(&mono), -3.01, 0.02);
}

#[test]
fn integrated_loudness_meets_ebu_tech_3341() {
    // EBU Tech 3341, cases 1 to 5 [memory], within 0.1 LU.
    let cases: [(&[(f64, f64)], f64); 5] = [
        (&[(-23.0, 20.0)], -23.0),
        (&[(-33.0, 20.0)], -33.0),
        (&[(-36.0, 10.0), (-23.0, 60.0), (-36.0, 10.0)], -23.0),
        (
            &[
                (-72.0, 10.0),
                (-36.0, 10.0),
                (-23.0, 60.0),
                (-36.0, 10.0),
                (-72.0, 10.0),
            ],
            -23.0,
        ),
        (&[(-26.0, 20.0), (-20.0, 20.1), (-26.0, 20.0)], -23.0),
    ];
    for (steps, lufs) in cases {
        near(loudness(&tones(steps)), lufs, 0.1);
    }
}

#[test]
fn loudness_range_meets_ebu_tech_3342() {
    // EBU Tech 3342, cases 1 to 3 [memory], within 1 LU.
    for (first, second, range) in [(-20.0, -30.0, 10.0), (-20.0, -15.0, 5.0), (-40.0, -20.0, 20.0)] {
        let audio = tones(&[(first, 20.0), (second, 20.0)]);
        near(Energies::of(&audio).and_then(|energies| energies.range()), range, 1.0);
    }
}

#[test]
fn true_peak_meets_ebu_tech_3341() {
    // EBU Tech 3341 [memory], within +0.2 and -0.4 dB: a sine at a quarter of the rate.
    for (amplitude, degrees, dbtp) in [(0.5, 0.0, -6.0), (0.5, 45.0, -6.0), (1.41, 45.0, 3.0)] {
        let mut tone = sine(12_000.0, amplitude, degrees * PI / 180.0, 9600);
        // The case fades in and out; a hard start would ring above the sine.
        for frame in 0..1200 {
            let fade = frame as f32 / 1200.0;
            tone[frame] *= fade;
            tone[9599 - frame] *= fade;
        }
        let peak = true_peak_db(&stereo(tone.clone(), tone)).expect("not silent");
        assert!((-0.4..=0.2).contains(&(peak - dbtp)), "{peak} is not {dbtp}");
    }
}

#[test]
fn true_peak_agrees_with_the_reference_meter() {
    // Averaged over two frames and again, for music falls towards half the rate. White noise up to it reads up to
    // 0.7 dB less on the reference meter, which hears little up there.
    let white = noise(5, 200_002);
    let mut loud: Vec<f32> = white.windows(3).map(|w| (w[0] + 2.0 * w[1] + w[2]) / 2.0).collect();
    // Quiet before and after its loudest place, as the search leaves quiet places out.
    for (frame, sample) in loud.iter_mut().enumerate() {
        *sample *= 0.2 + 0.8 * libm::exp(-((frame as f64 - 131_070.0) / 300.0).powi(2)) as f32;
    }
    for signal in [
        loud,
        sine(5_512.5, 0.7, 0.3, 100_000),
        sine(11_999.0, 0.9, PI / 4.0, 100_000),
    ] {
        let audio = stereo(signal.clone(), signal);
        let meter = fed(&audio, Mode::TRUE_PEAK).expect("a rate it takes");
        let theirs = crate::base::audio::db_of_gain(meter.true_peak(0).expect("a channel"));
        near(true_peak_db(&audio), theirs, 0.15);
    }
}

#[test]
fn leaving_quiet_places_out_changes_no_true_peak() {
    // Straight through, without any search: every place of every phase, in 64 bits.
    for stream in 0..8 {
        let signal: Vec<f32> = noise(stream, 3000)
            .iter()
            .enumerate()
            .map(|(frame, sample)| sample * (frame as f32 / 3000.0).powi(3))
            .collect();
        let mut most = signal.iter().fold(0.0, |most: f64, s| most.max(f64::from(s.abs())));
        for frame in 0..signal.len() - 12 {
            for quarter in 1..4 {
                let place = f64::from(quarter) / 4.0;
                let (mut sum, mut weights) = (0.0, 0.0);
                for offset in -11_i32..=12 {
                    let x = f64::from(offset) - place;
                    let weight = libm::sin(PI * x) / (PI * x) * (0.5 + 0.5 * libm::cos(PI * x / 12.0));
                    weights += weight;
                    let at = usize::try_from(frame as i32 + offset).ok();
                    sum += weight * at.and_then(|at| signal.get(at)).map_or(0.0, |s| f64::from(*s));
                }
                most = most.max((sum / weights).abs());
            }
        }
        near(
            true_peak_db(&stereo(signal, vec![0.0; 3000])),
            crate::base::audio::db_of_gain(most),
            1e-4,
        );
    }
}

#[test]
fn silence_and_shreds_have_no_figures() {
    let silence = figures(&Audio::silence(2, 96_000, RATE));
    assert_eq!(
        silence,
        Figures {
            seconds: 2.0,
            rate: RATE,
            channels: 2,
            ..Figures::default()
        }
    );
    let shred = stereo(sine(997.0, 0.5, 0.0, 19_199), sine(997.0, 0.5, 0.0, 19_199));
    assert_eq!(loudness(&shred), None);
    assert!(loudness(&stereo(sine(997.0, 0.5, 0.0, 19_200), sine(997.0, 0.5, 0.0, 19_200))).is_some());
    for frames in 0..4 {
        for channels in 0..3 {
            figures(&Audio::silence(channels, frames, RATE));
            figures(&Audio {
                channels: vec![vec![0.5; frames]; channels],
                rate: RATE,
            });
        }
    }
}

#[test]
fn mono_loss_tells_sides_apart() {
    let (one, other) = (noise(1, 480_000), noise(2, 480_000));
    let loss = |left: &Vec<f32>, right: &Vec<f32>| figures(&stereo(left.clone(), right.clone())).mono_loss_db;
    near(loss(&one, &one), 0.0, 1e-9);
    near(loss(&one, &other), 3.01, 0.05);
    near(loss(&one, &vec![0.0; one.len()]), 3.01, 0.01);
    let against: Vec<f32> = one.iter().map(|s| -s).collect();
    near(loss(&one, &against), 120.0, 1e-9);
    near(figures(&stereo(one.clone(), against)).correlation, -1.0, 1e-9);
    near(figures(&stereo(one, other)).correlation, 0.0, 0.01);
}

#[test]
fn crest_and_dc_are_what_they_say() {
    // A sine's crest is √2, a square's 1 [practice].
    near(
        figures(&stereo(sine(1000.0, 0.5, 0.0, 48_000), sine(1000.0, 0.5, 0.0, 48_000))).crest_db,
        3.01,
        0.01,
    );
    let square: Vec<f32> = (0..48_000)
        .map(|frame| if frame / 24 % 2 == 0 { 0.5 } else { -0.5 })
        .collect();
    near(figures(&stereo(square.clone(), square)).crest_db, 0.0, 0.01);
    let lifted: Vec<f32> = sine(1000.0, 0.5, 0.0, 48_000).iter().map(|s| s - 0.1).collect();
    let dc = figures(&stereo(sine(1000.0, 0.5, 0.0, 48_000), lifted)).dc;
    assert!((dc + 0.1).abs() < 1e-4, "{dc}");
}

#[test]
fn a_seam_that_fits_is_quiet_and_a_cut_one_is_not() {
    let whole = sine(110.0, 0.5, 0.4, 48_000);
    let seam = figures(&stereo(whole.clone(), whole.clone()))
        .seam_db
        .expect("sound there");
    assert!(seam < 3.0, "{seam}");
    // A quarter of a turn is missing: the jump is half of full scale, where steps are some hundredths of it.
    let cut = sine(110.0, 0.5, 0.0, 48_000 - 109);
    let seam = figures(&stereo(whole[..48_000 - 109].to_vec(), cut))
        .seam_db
        .expect("sound there");
    assert!(seam > 25.0, "{seam}");
}

#[test]
fn figures_go_by_the_names_of_the_reference() {
    let told = serde_json::to_value(figures(&Audio::silence(2, 10, RATE))).expect("plain numbers");
    let names: Vec<&String> = told.as_object().expect("a table").keys().collect();
    let mut wanted = [
        "seconds",
        "rate",
        "channels",
        "lufs",
        "true_peak_db",
        "lra",
        "sample_peak_db",
        "crest_db",
        "dc",
        "correlation",
        "mono_loss_db",
        "seam_db",
    ];
    wanted.sort_unstable();
    assert_eq!(names, wanted);
    assert!(told["lufs"].is_null());
}
