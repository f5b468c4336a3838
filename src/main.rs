//! The `slipbook` program.
fn main() {}
