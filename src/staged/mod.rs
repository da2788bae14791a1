//! staged (under construction)
