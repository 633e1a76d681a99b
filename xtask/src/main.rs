//! Builds, sizes, benches.
fn main() {}
