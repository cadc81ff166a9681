//! What every effect of a strip has in common.

/// An effect that works through a signal block by block and keeps its own state between blocks.
///
/// Effects are made for one rate and one number of channels; blocks may have any length from 1 frame on, and how
/// a signal is cut into blocks never changes a bit of the result.
pub trait Effect: Send {
    /// Frames by which the output lags behind the input. The desk asks for the input so much earlier.
    fn latency(&self) -> usize {
        0
    }

    /// Frames after which a state forgets where it began, to below -120 dB; a repeating loop is run in for so long.
    fn run_in(&self) -> usize;

    /// Processes one block in place: one slice a channel, all equally long.
    fn process(&mut self, block: &mut [&mut [f32]]);
}
