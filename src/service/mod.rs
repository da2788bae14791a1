//! service (under construction)
