//! Sessions equal themselves, and their truth holds together.
