//! What a render tells of its buses.

use serde::Serialize;

use super::report::{number_of, peak_db};
use crate::measure::BusFigures;
use crate::render::BusReport;
use crate::text::table::Table;

/// A bus's fields of `--json`.
#[derive(Serialize)]
pub(super) struct BusLine<'a> {
    name: &'a str,
    gain_reduction_db: f64,
    compressor_reduction_db: f64,
    ceiling_reduction_db: f64,
    peak_db: Option<f64>,
    lufs: Option<f64>,
    width_percent: Option<f64>,
    mono_loss_db: Option<f64>,
    /// The octave in which a mono listener loses most, by its mid-band frequency, and how much.
    mono_loss_octave_hz: Option<f64>,
    mono_loss_octave_db: Option<f64>,
}

impl<'a> BusLine<'a> {
    pub(super) fn of(bus: &'a BusReport) -> BusLine<'a> {
        let figures = bus.figures;
        let octave = figures.and_then(|figures| figures.worst_octave);
        BusLine {
            name: &bus.name,
            gain_reduction_db: bus.gain_reduction_db,
            compressor_reduction_db: bus.compressor_reduction_db,
            ceiling_reduction_db: bus.ceiling_reduction_db,
            peak_db: peak_db(bus.peak),
            lufs: figures.and_then(|figures| figures.lufs),
            width_percent: figures.and_then(|figures| figures.width_percent),
            mono_loss_db: figures.and_then(|figures| figures.mono_loss_db),
            mono_loss_octave_hz: octave.map(|(hertz, _)| hertz),
            mono_loss_octave_db: octave.map(|(_, db)| db),
        }
    }
}

/// What costs nothing to know of a bus, in words: its peak, and how deep its compressor and its ceiling went.
pub(super) fn bus_words(bus: &BusReport) -> String {
    let peak = peak_db(bus.peak).map_or("silent".to_string(), |db| format!("peak {db:6.1} dB"));
    let reductions = [
        ("compressor", bus.compressor_reduction_db),
        ("ceiling", bus.ceiling_reduction_db),
    ];
    let deep = reductions.into_iter().filter(|(_, db)| *db > 0.05);
    let deep = deep.map(|(what, db)| format!("{what} up to {db:.1} dB"));
    std::iter::once(peak).chain(deep).collect::<Vec<_>>().join(", ")
}

/// A line a bus, before rooms, delays and the master.
pub(super) fn bus_table(buses: &[BusReport]) -> Table {
    let mut table = Table::with_words();
    let heads = ["peak", "loud", "compr", "ceiling", "width", "mono", "most of it"];
    table.row("  bus", heads);
    table.row("", ["dBFS", "LUFS", "dB", "dB", "%", "dB", ""]);
    for bus in buses {
        let figure = |of: fn(&BusFigures) -> Option<f64>| number_of(bus.figures.as_ref().and_then(of));
        let octave = bus.figures.and_then(|figures| figures.worst_octave);
        let cells = [
            number_of(peak_db(bus.peak)),
            figure(|figures| figures.lufs),
            number_of(Some(bus.compressor_reduction_db)),
            number_of(Some(bus.ceiling_reduction_db)),
            figure(|figures| figures.width_percent),
            figure(|figures| figures.mono_loss_db),
            octave.map_or(String::new(), |(hertz, db)| format!("{db:.1} at {hertz} Hz")),
        ];
        table.row(format!("  {}", bus.name), cells);
    }
    table
}
