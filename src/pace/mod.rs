//! What a run would have been in other air, and what the next one will be.
