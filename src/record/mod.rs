//! record (under construction)
