//! A strip, resolved.

use crate::text::{Place, Problem};

/// The highest centre of a bell, as a share of the rate. Above it there is no room left for what the bell does on its upper side.
pub(crate) const HIGHEST_CENTRE: f64 = 0.45;

/// A strip, in the order in which it runs. `None` is off.
#[derive(Debug, Clone, PartialEq)]
pub struct Strip {
    /// Hz.
    pub low_cut: Option<f64>,
    /// Hz.
    pub high_cut: Option<f64>,
    /// Bells, in order.
    pub eq: Vec<Bell>,
    /// The compressor.
    pub compress: Option<Compress>,
    /// The saturator.
    pub drive: Option<Drive>,
    /// Ducking under a part.
    pub duck: Option<Duck>,
    /// Seconds by which one side lags: the right for positive values, the left for negative ones; 0 is off.
    pub spread: f64,
    /// The side signal's factor: 1 leaves it as it is.
    pub width: f64,
    /// dB; minus infinity for silence.
    pub gain_db: f64,
    /// From -1 (left) to 1 (right).
    pub pan: f64,
    /// dBTP.
    pub ceiling_db: Option<f64>,
    /// Sends, taken after gain and pan.
    pub sends: Vec<Send>,
}

impl Strip {
    /// A strip that changes nothing.
    pub fn plain() -> Strip {
        Strip {
            low_cut: None,
            high_cut: None,
            eq: Vec::new(),
            compress: None,
            drive: None,
            duck: None,
            spread: 0.0,
            width: 1.0,
            gain_db: 0.0,
            pan: 0.0,
            ceiling_db: None,
            sends: Vec::new(),
        }
    }
}

/// A send of a strip to a room or delay.
#[derive(Debug, Clone, PartialEq)]
pub struct Send {
    /// Index into the loop's spaces.
    pub to: usize,
    /// dB.
    pub level_db: f64,
}

/// One bell of an equaliser.
#[derive(Debug, Clone, PartialEq)]
pub struct Bell {
    /// Centre, Hz.
    pub at: f64,
    /// dB at the centre.
    pub gain_db: f64,
    /// Bandwidth in octaves between the points of half the gain in dB.
    pub width: f64,
}

/// Where the centre of a bell is written, for whoever knows the rate.
#[derive(Debug, Clone, PartialEq)]
pub struct Centre {
    /// Hz.
    pub at: f64,
    /// Where the file says so.
    pub place: Place,
}

/// The problems of centres that lie above [`HIGHEST_CENTRE`] of a rate in Hz, each place once.
pub(crate) fn too_high(centres: &[Centre], rate: u32) -> Vec<Problem> {
    let highest = HIGHEST_CENTRE * f64::from(rate);
    let mut problems = Vec::new();
    for Centre { at, place } in centres.iter().filter(|centre| centre.at > highest) {
        let what = format!("a bell at {at} Hz lies too high for a sample rate of {rate} Hz");
        let problem = Problem::at(place, what);
        let problem = problem.help(format!(
            "at this rate write {} Hz or less, or render with a higher --rate",
            highest.floor()
        ));
        if !problems.contains(&problem) {
            problems.push(problem);
        }
    }
    problems
}

/// A compressor.
#[derive(Debug, Clone, PartialEq)]
pub struct Compress {
    /// dBFS.
    pub threshold_db: f64,
    /// 1 or more.
    pub ratio: f64,
    /// Seconds to 63 %.
    pub attack: f64,
    /// Seconds to 63 %.
    pub release: f64,
    /// Width of the soft knee, dB.
    pub knee_db: f64,
    /// dB.
    pub makeup_db: f64,
    /// Share of the squeezed signal, 0 to 1; the rest is plain.
    pub blend: f64,
}

/// A soft saturator.
#[derive(Debug, Clone, PartialEq)]
pub struct Drive {
    /// dB into the saturator.
    pub amount_db: f64,
    /// Share of the driven signal, 0 to 1.
    pub blend: f64,
    /// A high cut on what the saturator adds, Hz.
    pub high_cut: Option<f64>,
}

/// Ducking: this strip gets quieter while a part plays.
#[derive(Debug, Clone, PartialEq)]
pub struct Duck {
    /// Index of the part that is followed.
    pub by: usize,
    /// dB down at the most.
    pub depth_db: f64,
    /// Seconds to 63 % of the way back.
    pub release: f64,
}
