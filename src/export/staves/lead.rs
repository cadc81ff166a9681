//! The staff of a lead sheet on a page: what counts is black whatever the metre, for white slashes are long notes; the band's
//! accents stand above the system.

use crate::notation::{Sheet, Staff, Value, lead};

/// A staff of slashes, one a beat.
pub(super) fn staff(sheet: &Sheet) -> Staff {
    let mut staff = lead(sheet);
    for measure in &mut staff.measures {
        measure.voices.truncate(1);
        for event in measure.voices.iter_mut().flatten() {
            event.value = Value {
                part: event.value.part.max(4),
                dots: 0,
            };
        }
    }
    staff
}
