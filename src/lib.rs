//! slipbook: a versioned setup book for drag cars.
