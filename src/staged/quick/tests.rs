//! The quick picture holds to the traced one.
