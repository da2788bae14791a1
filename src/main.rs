//! The `stillcloth` command: parses what the user typed and hands over to the library.

fn main() {}
