//! The program run as a command, and what it said.

use std::{
    path::Path,
    process::{Command, Output, Stdio},
};

/// The program with arguments, run in a folder.
pub fn stillcloth(folder: &Path, arguments: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_stillcloth"));
    command.current_dir(folder).args(arguments).stdin(Stdio::null()).output().unwrap()
}

/// All that it said.
pub fn words(output: &Output) -> String {
    String::from_utf8_lossy(&[&output.stdout[..], &output.stderr[..]].concat()).into_owned()
}

/// Runs it and holds that it went well; all that it said.
pub fn went_well(folder: &Path, arguments: &[&str]) -> String {
    let output = stillcloth(folder, arguments);
    assert!(output.status.success(), "{arguments:?}: {}", words(&output));
    words(&output)
}

/// Runs it and holds that it was refused with words; all that it said.
pub fn went_wrong(folder: &Path, arguments: &[&str]) -> String {
    let output = stillcloth(folder, arguments);
    assert!(!output.status.success(), "{arguments:?}: {}", words(&output));
    assert!(!words(&output).contains("panicked"), "{}", words(&output));
    words(&output)
}

/// Holds that it went well; what it printed.
pub fn printed(output: &Output) -> String {
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// Holds that it was refused; what it complained of.
pub fn refusal(output: &Output) -> String {
    assert_eq!(output.status.code(), Some(1));
    String::from_utf8_lossy(&output.stderr).into_owned()
}
