//! What everything stands on: audio buffers, random streams, available memory, wide arithmetic, windowed sincs, periodicity.
//! It knows nothing of music.

pub(crate) mod audio;
pub(crate) mod fast_math;
pub(crate) mod memory;
pub(crate) mod periodicity;
pub(crate) mod random;
pub(crate) mod simd;
pub(crate) mod stages;
pub(crate) mod windowed_sinc;
