//! What there is to tell of a mix's buses.

use crate::measure::{BusFigures, Heard};
use crate::mix::strip::Reductions;

/// One bus of a render.
#[derive(Debug, Clone, PartialEq)]
pub struct BusReport {
    /// Its name; in a form with its section before it.
    pub name: String,
    /// Its highest sample, as an amplitude.
    pub peak: f32,
    /// Its deepest gain reduction in dB, 0 or more: that of its compressor, before makeup and blend, and that of its ceiling.
    pub gain_reduction_db: f64,
    /// What is heard of its compressor's deepest gain reduction, after blend, in dB, 0 or more.
    pub compressor_reduction_db: f64,
    /// Its ceiling's deepest gain reduction in dB, 0 or more.
    pub ceiling_reduction_db: f64,
    /// What else a meter reads from it before rooms, delays and the master, where [`Order::bus_figures`](super::Order) asks for it and
    /// something hears it.
    pub figures: Option<BusFigures>,
}

/// What there is to tell of a bus, as it adds up over a form.
#[derive(Clone)]
pub(super) struct BusSums {
    pub name: String,
    pub peak: f32,
    pub reductions: Reductions,
    pub heard: Option<Heard>,
}

impl BusSums {
    /// Adds another turn of the same section.
    pub(super) fn add(&mut self, other: BusSums) {
        self.peak = self.peak.max(other.peak);
        self.reductions = self.reductions.max(other.reductions);
        match (&mut self.heard, other.heard) {
            (Some(own), Some(other)) => own.add(&other),
            (own, other) => *own = own.take().or(other),
        }
    }

    /// What is told of it.
    pub(super) fn report(self) -> BusReport {
        let Reductions {
            compressor_db,
            heard_db,
            ceiling_db,
        } = self.reductions;
        BusReport {
            name: self.name,
            peak: self.peak,
            gain_reduction_db: compressor_db + ceiling_db,
            compressor_reduction_db: heard_db,
            ceiling_reduction_db: ceiling_db,
            figures: self.heard.as_ref().map(Heard::figures),
        }
    }
}
