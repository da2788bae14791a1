//! The `stillcloth` command: parses what the user typed and hands over to the library.

use clap::{Args, Parser, Subcommand};
use std::path::PathBuf;
use std::process::ExitCode;
use stillcloth::staged::{self, Profile};

/// Knows where every ball lies whenever the cloth is still.
#[derive(Debug, Parser)]
#[command(version)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Make up frames with exact labels, for measuring and tests.
    Stage(StageArgs),
}

#[derive(Debug, Args)]
struct StageArgs {
    /// Folder for the pictures and their labels.
    dir: PathBuf,
    /// How many frames of each profile.
    #[arg(long, default_value_t = 10)]
    frames: u64,
    /// Seed of the first frame; the others follow.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// How the camera looks at the table; all three where it is not given.
    #[arg(long)]
    profile: Option<Profile>,
}

fn main() -> ExitCode {
    let outcome = match Cli::parse().command {
        Command::Stage(args) => stage(&args),
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}

fn stage(args: &StageArgs) -> Result<(), staged::StageError> {
    let profiles = args.profile.map_or_else(|| Profile::ALL.to_vec(), |profile| vec![profile]);
    for profile in profiles {
        for (done, seed) in (args.seed..args.seed.saturating_add(args.frames)).enumerate() {
            let frame = staged::write_frame(&args.dir, profile, seed)?;
            let scene = frame.scene;
            println!(
                "{}/{} {} ({} balls, {}, {} cloth, {} light)",
                done + 1,
                args.frames,
                frame.path.display(),
                scene.balls.len(),
                scene.kind.name(),
                scene.looks.cloth.name,
                scene.looks.lighting.kind.name(),
            );
        }
    }
    Ok(())
}
