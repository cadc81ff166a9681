use super::*;

const RATE: u32 = 44_100;

/// Hiss of an RMS in dBFS: integers of a linear congruential generator (Numerical Recipes, 2nd edition, 7.1), twelve to a sample.
fn hiss(frames: usize, db: f64) -> Vec<f32> {
    let mut state = 1u32;
    let mut next = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(state >> 16) / 65_536.0
    };
    (0..frames)
        .map(|_| (((0..12).map(|_| next()).sum::<f64>() - 6.0) * gain_of_db(db)) as f32)
        .collect()
}

/// A tone that rises by a curve of time in seconds, falls, and lasts half a second.
fn sound(hz: f64, rise: impl Fn(f64) -> f64) -> Vec<f32> {
    (0..RATE as usize / 2)
        .map(|n| {
            let t = n as f64 / f64::from(RATE);
            let fall = libm::exp10(-6.0 * t);
            (0.8 * fall * rise(t).min(1.0) * libm::sin(std::f64::consts::TAU * hz * t)) as f32
        })
        .collect()
}

fn mono(parts: &[&[f32]]) -> Audio {
    Audio {
        channels: vec![parts.concat()],
        rate: RATE,
    }
}

fn onset(parts: &[&[f32]]) -> usize {
    Conditioning::of(&mono(parts)).onset
}

const MS: usize = RATE as usize / 1000;

#[test]
fn silence_before_a_sound_moves_its_onset_by_as_much() {
    for hz in [45.0, 180.0, 3_000.0] {
        for rise in [0.0, 0.001, 0.02, 0.2, 1.0] {
            let sound = sound(hz, |t| if rise == 0.0 { 1.0 } else { t / rise });
            let own = onset(&[&sound]);
            assert!(own <= MS, "{hz} Hz, {rise} s: {own} frames of the sound itself");
            for ms in [1, 7, 20, 80] {
                assert_eq!(onset(&[&vec![0.0; ms * MS], &sound]), own + ms * MS, "{hz} {rise} {ms}");
            }
        }
    }
}

#[test]
fn hiss_before_a_stroke_does_not_fool_it() {
    for db in [-90.0, -75.0, -60.0] {
        for ms in [4, 11, 25, 80] {
            let hiss = hiss((ms + 600) * MS, db);
            for hz in [60.0, 900.0] {
                let struck = sound(hz, |_| 1.0);
                let mut whole = hiss.clone();
                for (n, sample) in struck.iter().enumerate() {
                    whole[ms * MS + n] += sample;
                }
                let off = onset(&[&whole]) as f64 / MS as f64 - ms as f64;
                assert!(off.abs() < 0.5, "{db} dBFS, {hz} Hz: {off} ms off after {ms}");
            }
        }
    }
}

#[test]
fn loud_hiss_before_a_soft_recording_does_not_either() {
    // A stroke that peaks at -22 dBFS over hiss at -60: the hiss's own peaks are 26 dB below it.
    let mut whole = hiss(600 * MS, -60.0);
    for (n, sample) in sound(400.0, |_| 1.0).iter().enumerate() {
        whole[40 * MS + n] += 0.1 * sample;
    }
    let off = onset(&[&whole]) as f64 / MS as f64 - 40.0;
    assert!(off.abs() < 0.5, "{off} ms off");
}

#[test]
fn soft_attacks_are_not_cut_into() {
    // Linear, as a bow's; by an S, as a brush's; by decibels, as a cymbal played backwards.
    type Curve = fn(f64) -> f64;
    let curves: [(&str, Curve); 5] = [
        ("linear, 0.3 s", |t| t / 0.3),
        ("linear, 2 s", |t| t / 2.0),
        ("S, 0.1 s", |t| {
            0.5 - 0.5 * libm::cos(std::f64::consts::PI * (t / 0.1).min(1.0))
        }),
        ("60 dB in 0.4 s", |t| libm::exp10(-3.0 + 7.5 * t)),
        ("40 dB in 0.1 s", |t| libm::exp10(-2.0 + 20.0 * t)),
    ];
    for (name, curve) in curves {
        for hz in [50.0, 440.0] {
            let sound = sound(hz, curve);
            let own = onset(&[&sound]);
            let lost = sound[..own].iter().fold(0.0f32, |most, s| most.max(s.abs()));
            assert!(
                own <= 3 * MS && lost < 2e-3,
                "{name}, {hz} Hz: {own} frames up to {lost}"
            );
        }
    }
}

#[test]
fn a_sound_that_begins_with_its_file_keeps_its_beginning() {
    for hz in [45.0, 110.0, 220.0, 440.0, 1_000.0] {
        for rise in [0.002, 0.005, 0.01, 0.02, 0.04, 0.1, 0.2, 0.5] {
            for phase in [0.0, 0.8, 1.6] {
                let turn = |n: usize| std::f64::consts::TAU * hz * n as f64 / f64::from(RATE) + phase;
                let line =
                    |n: usize| (n as f64 / f64::from(RATE) / rise).min(1.0) * libm::exp10(-3.0 * n as f64 / 20_000.0);
                let sound: Vec<f32> = (0..20_000).map(|n| (line(n) * libm::sin(turn(n))) as f32).collect();
                let own = onset(&[&sound]);
                assert!(own <= MS / 2, "{hz} Hz, {rise} s, {phase}: {own} frames");
            }
        }
    }
}

#[test]
fn a_grace_note_before_the_stroke_belongs_to_it() {
    let stroke = sound(200.0, |_| 1.0);
    let grace: Vec<f32> = stroke.iter().map(|s| 0.05 * s).take(30 * MS).collect();
    assert_eq!(onset(&[&grace, &stroke]), onset(&[&grace]));
}

#[test]
fn a_click_before_the_body_belongs_to_it() {
    let mut sound = sound(60.0, |t| if t < 0.004 { 0.0 } else { 1.0 });
    sound[0] = 0.02;
    assert_eq!(onset(&[&sound]), 0);
}

#[test]
fn silence_before_a_sound_with_an_offset_moves_its_onset_by_as_much() {
    // Low and short: which half of it the mean is taken of decides whether there seems to be an offset.
    let sound: Vec<f32> = sound(52.0, |_| 1.0).iter().take(150 * MS).map(|s| s + 0.004).collect();
    let own = Conditioning::of(&mono(&[&sound]));
    for ms in 1..40 {
        let moved = Conditioning::of(&mono(&[&vec![0.0; ms * MS], &sound]));
        assert_eq!((moved.onset, &moved.dc), (own.onset + ms * MS, &own.dc), "{ms} ms");
    }
}

#[test]
fn silence_needs_nothing() {
    assert!(Conditioning::of(&mono(&[&[0.0; 100]])).is_none());
    assert!(Conditioning::of(&mono(&[&[0.5]])).is_none());
}

#[test]
fn an_offset_is_taken_away_above_50_dbfs_and_half_a_wave_is_none() {
    let offset = |db: f64| -> Vec<f32> {
        let dc = gain_of_db(db) as f32;
        sound(200.0, |_| 1.0).iter().map(|s| s + dc).collect()
    };
    let care = Conditioning::of(&mono(&[&offset(-30.0)]));
    assert!((care.dc[0] - 0.0316).abs() < 1e-3, "{care:?}");
    assert_eq!(Conditioning::of(&mono(&[&offset(-52.0)])).dc, [0.0]);
    let kick: Vec<f32> = (0..50 * MS).map(|n| libm::sin(n as f64 * 0.0045) as f32).collect();
    assert_eq!(Conditioning::of(&mono(&[&kick])).dc, [0.0]);
    assert_eq!(
        Conditioning::of(&mono(&[&[0.25; 4_000]])).dc,
        [0.0],
        "nothing but offset"
    );
}

#[test]
fn what_breaks_off_fades_for_2_ms_and_what_ends_is_left() {
    let audio = mono(&[&sound(200.0, |_| 1.0)[..100 * MS]]);
    let care = Conditioning::of(&audio);
    assert_eq!(care.fade, 88);
    let mut taken = audio.clone();
    care.begin(&mut taken);
    care.end(&mut taken);
    let taken = taken.channels.remove(0);
    let left = &audio.channels[0][care.onset..];
    assert_eq!(taken.len(), left.len());
    let faded = taken.len() - 88;
    assert!(taken[..faded] == left[..faded], "nothing before the fade changes");
    assert!(taken[faded + 87].abs() < 0.02 * left[faded + 87].abs());
    let ended = mono(&[&sound(200.0, |_| 1.0), &[0.0; 10]]);
    assert_eq!(Conditioning::of(&ended).fade, 0);
}

#[test]
fn either_channel_may_begin() {
    let sound = sound(300.0, |_| 1.0);
    let late = [vec![0.0; 10 * MS], sound[..sound.len() - 10 * MS].to_vec()].concat();
    let audio = Audio {
        channels: vec![late, sound],
        rate: RATE,
    };
    assert!(Conditioning::of(&audio).onset <= 1);
}
