//! The `stillcloth` command: parses what the user typed and hands over to the library.

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "a command prints")]

mod commands;

use clap::Parser;
use std::{
    io::{IsTerminal, stderr},
    process::ExitCode,
};
use tracing_subscriber::EnvFilter;

/// A camera over a pocket-billiard table: where every ball lies, kept and passed on.
#[derive(Parser)]
#[command(version)]
struct CommandLine {
    #[command(subcommand)]
    command: commands::Command,
}

fn main() -> ExitCode {
    let line = CommandLine::parse();
    let filter = EnvFilter::try_from_default_env().unwrap_or_else(|_| EnvFilter::new("info"));
    tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_ansi(stderr().is_terminal())
        .with_writer(stderr)
        .init();
    match line.command.run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) if commands::is_unread(error.as_ref()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("stillcloth: {error}");
            ExitCode::FAILURE
        }
    }
}
