//! slipbook: a versioned setup book for drag cars.
pub mod store;
