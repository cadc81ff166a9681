//! pressroll
fn main() {}
