use proptest::prelude::*;
use rand_pcg::rand_core::Rng;

use super::*;

fn noise(stream: u64, frames: usize) -> Vec<f32> {
    let mut random = rand_pcg::Pcg32::new(7, stream);
    (0..frames)
        .map(|_| (f64::from(random.next_u32()) / 2f64.powi(31) - 1.0) as f32)
        .collect()
}

fn pair(stream: u64, frames: usize) -> [Vec<f32>; 2] {
    [noise(stream, frames), noise(stream + 1, frames)]
}

fn silence(frames: usize) -> [Vec<f32>; 2] {
    [vec![0.0; frames], vec![0.0; frames]]
}

fn response(frames: usize, crossed: bool) -> Response {
    Response {
        direct: pair(10, frames),
        cross: crossed.then(|| pair(20, frames)),
    }
}

/// Convolution by its definition, in 64 bits.
fn by_definition(response: &Response, send: &[Vec<f32>; 2], shape: Shape, frames: usize) -> [Vec<f64>; 2] {
    let mut out = [vec![0.0; frames], vec![0.0; frames]];
    let mut add = |from: usize, to: usize, taps: &[f32]| {
        for (at, sample) in send[from].iter().enumerate() {
            for (lag, tap) in taps.iter().enumerate() {
                let frame = match shape {
                    Shape::Circle => (at + lag) % frames,
                    Shape::Line => at + lag,
                };
                if let Some(out) = out[to].get_mut(frame) {
                    *out += f64::from(*sample) * f64::from(*tap);
                }
            }
        }
    };
    for side in 0..2 {
        add(side, side, &response.direct[side]);
        if let Some(cross) = &response.cross {
            add(side, 1 - side, &cross[side]);
        }
    }
    out
}

/// What two signals differ by, in dB under the second.
fn null(one: &[Vec<f32>; 2], other: &[Vec<f64>; 2]) -> f64 {
    let (mut apart, mut whole) = (0.0, 1e-300);
    for (one, other) in one.iter().flatten().zip(other.iter().flatten()) {
        apart += (f64::from(*one) - other) * (f64::from(*one) - other);
        whole += other * other;
    }
    10.0 * libm::log10(apart / whole + 1e-300)
}

#[test]
fn it_is_convolution() {
    for (taps, frames) in [(1, 700), (300, 5000), (3000, 3001), (5000, 900), (2500, 100), (7, 1)] {
        for crossed in [false, true] {
            let (response, send) = (response(taps, crossed), pair(1, frames));
            for (shape, length) in [
                (Shape::Circle, frames),
                (Shape::Line, frames + taps + 50),
                (Shape::Line, frames),
                (Shape::Line, frames / 2),
            ] {
                let mut out = silence(length);
                add(&response, &send, shape, 1.0, &mut out);
                let wanted = by_definition(&response, &send, shape, length);
                let null = null(&out, &wanted);
                assert!(
                    length == 0 || null < -125.0,
                    "{taps} {frames} {shape:?} {length}: {null} dB"
                );
            }
        }
    }
}

#[test]
fn a_long_room_nulls_too() {
    // A sparse send keeps the definition quick.
    let response = response(60_000, true);
    let mut send = silence(150_000);
    for frame in [0, 1, 4711, 65_535, 65_536, 149_999] {
        send[0][frame] = 0.5;
        send[1][149_999 - frame] = -0.7;
    }
    for (shape, length) in [(Shape::Circle, 150_000), (Shape::Line, 210_000)] {
        let mut wanted = [vec![0.0; length], vec![0.0; length]];
        for side in 0..2 {
            let cross = response.cross.as_ref().expect("crossed");
            for (to, taps) in [(side, &response.direct[side]), (1 - side, &cross[side])] {
                for (at, sample) in send[side].iter().enumerate().filter(|(_, s)| **s != 0.0) {
                    for (lag, tap) in taps.iter().enumerate() {
                        let frame = at + lag;
                        if shape == Shape::Circle || frame < length {
                            wanted[to][frame % length] += f64::from(*sample) * f64::from(*tap);
                        }
                    }
                }
            }
        }
        let mut out = silence(length);
        add(&response, &send, shape, 1.0, &mut out);
        let null = null(&out, &wanted);
        assert!(null < -125.0, "{shape:?}: {null} dB");
    }
}

#[test]
fn a_response_that_is_cut_is_convolution_too() {
    for (taps, frames, most) in [
        (700, 1500, 64),
        (1000, 300, 100),
        (300, 5000, 299),
        (64, 64, 1),
        (900, 40, 7),
    ] {
        let (response, send) = (response(taps, true), pair(1, frames));
        for (shape, length) in [
            (Shape::Circle, frames),
            (Shape::Line, frames + taps - 1),
            (Shape::Line, frames / 2),
        ] {
            let mut out = silence(length);
            Convolution::cut(&response, send[0].len(), out[0].len(), shape, 1.0, most).add(&send, &mut out);
            let null = null(&out, &by_definition(&response, &send, shape, length));
            assert!(null < -120.0, "{taps} {frames} {most} {shape:?} {length}: {null} dB");
        }
    }
}

#[test]
fn it_adds_at_the_gain_asked_for() {
    let (response, send) = (response(200, true), pair(1, 1000));
    let mut plain = silence(1000);
    add(&response, &send, Shape::Circle, 1.0, &mut plain);
    let under = pair(40, 1000);
    let mut out = under.clone();
    add(&response, &send, Shape::Circle, 0.25, &mut out);
    let wanted = [0, 1].map(|side: usize| {
        let sums = plain[side].iter().zip(&under[side]);
        sums.map(|(wet, under)| f64::from(*wet) * 0.25 + f64::from(*under))
            .collect()
    });
    assert!(null(&out, &wanted) < -125.0);
}

#[test]
fn the_number_of_threads_changes_no_bit() {
    let (response, send) = (response(9000, true), pair(1, 100_000));
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .expect("threads");
        pool.install(|| {
            let mut out = silence(100_000);
            add(&response, &send, Shape::Circle, 1.0, &mut out);
            out
        })
    };
    assert_eq!(with(1), with(3));
}

#[test]
fn nothing_in_gives_nothing_out() {
    let mut out = silence(5000);
    add(&response(700, true), &silence(5000), Shape::Circle, 1.0, &mut out);
    add(&response(0, false), &pair(1, 5000), Shape::Line, 1.0, &mut out);
    add(&response(700, true), &silence(0), Shape::Circle, 1.0, &mut out);
    assert_eq!(out, silence(5000));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    /// Blocks are long enough beside the taps: the points that are transformed grow with the sound alone, whatever the response.
    #[test]
    fn what_is_transformed_is_bounded(
        bits in 0_u32..=24, near in -2_isize..=2, other in 1_usize..20_000_000, reach in 1_usize..200_000_000
    ) {
        for taps in [(1_usize << bits).saturating_add_signed(near).max(1), other] {
            for piece in pieces(taps, MOST_TAPS) {
                let points = block_points(piece.len(), reach).expect("there is something to make");
                let blocks = reach.div_ceil(points - piece.len() + 1);
                let bound = 4 * reach + 16 * piece.len().max(SMALLEST);
                prop_assert!(blocks * points <= bound, "{taps} {reach}: {blocks} blocks of {points}");
            }
        }
    }

    #[test]
    fn turning_the_circle_turns_the_room(frames in 1_usize..3000, taps in 1_usize..2000, turn in 0_usize..3000) {
        let response = response(taps, true);
        let send = pair(3, frames);
        let turn = turn % frames;
        let mut plain = silence(frames);
        add(&response, &send, Shape::Circle, 1.0, &mut plain);
        let mut turned = send.clone();
        turned.iter_mut().for_each(|side| side.rotate_left(turn));
        let mut out = silence(frames);
        add(&response, &turned, Shape::Circle, 1.0, &mut out);
        plain.iter_mut().for_each(|side| side.rotate_left(turn));
        let wanted = plain.map(|side| side.into_iter().map(f64::from).collect());
        prop_assert!(null(&out, &wanted) < -120.0);
    }

    #[test]
    fn the_room_of_a_sum_is_the_sum_of_rooms(
        frames in 1_usize..2000, taps in 1_usize..2000, by in -4.0_f32..4.0, line in any::<bool>()
    ) {
        let shape = if line { Shape::Line } else { Shape::Circle };
        let length = if line { frames + taps } else { frames };
        let response = response(taps, true);
        let (one, other) = (pair(3, frames), pair(5, frames));
        let both = [0, 1].map(|side: usize| {
            one[side].iter().zip(&other[side]).map(|(a, b)| a + by * b).collect::<Vec<f32>>()
        });
        let mut apart = silence(length);
        add(&response, &one, shape, 1.0, &mut apart);
        add(&response, &other, shape, by, &mut apart);
        let mut together = silence(length);
        add(&response, &both, shape, 1.0, &mut together);
        let wanted = apart.map(|side| side.into_iter().map(f64::from).collect());
        prop_assert!(null(&together, &wanted) < -115.0);
    }
}
