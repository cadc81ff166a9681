//! Early reflections of a shoebox by image sources: Allen and Berkley, "Image method for efficiently simulating
//! small-room acoustics", JASA 65(4), 1979.

use rand_pcg::Pcg32;
use rand_pcg::rand_core::Rng;

/// Metres a second, in air of 20 °C.
pub(crate) const SPEED_OF_SOUND: f64 = 343.0;

/// Length, width and height of the shoebox, each as a share of the longest wall: 1.9 to 1.4 to 1, the
/// proportions whose modes spread most evenly (Louden, Acustica 24, 1971) [memory].
const PROPORTIONS: [f64; 3] = [1.0, 1.4 / 1.9, 1.0 / 1.9];

/// Where the left and the right of the send sound, as shares of length, width and height.
const SOURCES: [[f64; 3]; 2] = [[0.27, 0.31, 0.33], [0.31, 0.74, 0.29]];

/// Where the left and the right of the room are heard: a spaced pair, so that its sides differ. Nothing lies in
/// the middle of anything, or images would arrive together.
const EARS: [[f64; 3]; 2] = [[0.68, 0.39, 0.36], [0.63, 0.62, 0.41]];

/// What the images' signs are drawn from.
const SIGNS: u64 = 1979;

/// Mean free paths after which the reflections have handed over to the tail: by then they come from every side.
const PATHS_TO_MIX: f64 = 3.0;

/// One arrival.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Arrival {
    /// Seconds after the direct sound of the nearest source and ear.
    pub at: f64,
    /// ±1/r, r in metres; what the walls take is told by the room's decay.
    pub level: f64,
}

/// A shoebox with two sources and two ears in it.
pub(crate) struct Shoebox {
    walls: [f64; 3],
    /// Metres from the nearest source to its ear.
    nearest: f64,
}

impl Shoebox {
    /// The box whose longest wall is `size` metres.
    pub(crate) fn new(size: f64) -> Shoebox {
        let walls = PROPORTIONS.map(|share| share * size);
        let nearest = SOURCES
            .iter()
            .flat_map(|source| {
                EARS.iter()
                    .map(|ear| distance(scaled(source, walls), scaled(ear, walls)))
            })
            .fold(f64::INFINITY, f64::min);
        Shoebox { walls, nearest }
    }

    /// Arrivals from one source (0 left, 1 right) at one ear up to the mixing time, in no special order, without the
    /// direct sound.
    ///
    /// Each is drawn a sign. Images that all push alike add up to a thump below the lowest mode, which walls that
    /// scatter don't make.
    pub(crate) fn arrivals(&self, source: usize, ear: usize) -> Vec<Arrival> {
        let mut signs = Pcg32::new(SIGNS, (2 * source + ear) as u64);
        let ear = scaled(&EARS[ear], self.walls);
        let source = scaled(&SOURCES[source], self.walls);
        let reach = self.nearest + self.mixing_seconds() * SPEED_OF_SOUND;
        let [along, across, upward] = [0, 1, 2].map(|axis| offsets(source[axis], ear[axis], self.walls[axis], reach));
        let mut arrivals = Vec::new();
        for (x, x_bounces) in &along {
            for (y, y_bounces) in &across {
                for (z, z_bounces) in &upward {
                    let metres = (x * x + y * y + z * z).sqrt();
                    if metres < reach && x_bounces + y_bounces + z_bounces > 0 {
                        let sign = if signs.next_u32() & 0x8000_0000 == 0 { 1.0 } else { -1.0 };
                        arrivals.push(Arrival {
                            at: (metres - self.nearest) / SPEED_OF_SOUND,
                            level: sign / metres,
                        });
                    }
                }
            }
        }
        arrivals
    }

    /// Seconds after the direct sound at which the reflections have given way to the tail.
    pub(crate) fn mixing_seconds(&self) -> f64 {
        let [x, y, z] = self.walls;
        let surface = 2.0 * (x * y + x * z + y * z);
        PATHS_TO_MIX * 4.0 * self.volume() / surface / SPEED_OF_SOUND
    }

    /// The sum of squared levels that arrives a second. It is the same at all times: the images in a shell of
    /// radius r are 4·π·r²/V to the metre, and each arrives at 1/r.
    pub(crate) fn power(&self) -> f64 {
        4.0 * std::f64::consts::PI * SPEED_OF_SOUND / self.volume()
    }

    fn volume(&self) -> f64 {
        self.walls.iter().product()
    }
}

/// The images of a source along one axis: offset from the ear in metres, and the bounces it stands for.
fn offsets(source: f64, ear: f64, wall: f64, reach: f64) -> Vec<(f64, u32)> {
    let turns = (reach / (2.0 * wall)).ceil() as i32 + 1;
    (-turns..=turns)
        .flat_map(|turn| {
            let shift = 2.0 * f64::from(turn) * wall;
            let even = (shift + source - ear, (2 * turn).unsigned_abs());
            let odd = (shift - source - ear, (2 * turn - 1).unsigned_abs());
            [even, odd]
        })
        .filter(|(offset, _)| offset.abs() < reach)
        .collect()
}

fn scaled(shares: &[f64; 3], walls: [f64; 3]) -> [f64; 3] {
    [0, 1, 2].map(|axis| shares[axis] * walls[axis])
}

fn distance(a: [f64; 3], b: [f64; 3]) -> f64 {
    (0..3)
        .map(|axis| (a[axis] - b[axis]) * (a[axis] - b[axis]))
        .sum::<f64>()
        .sqrt()
}
