//! What a row of a chart has at one count.

/// What a row has at one count.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Cell {
    /// One text a step.
    Steps(Vec<String>),
    /// One text over all steps.
    Whole(String),
}
