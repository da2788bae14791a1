//! `stillcloth stage`: makes up frames with exact labels, for measuring and tests; with
//! `--session` a whole filmed session with its truth.

use std::error::Error;
use std::path::PathBuf;
use stillcloth::staged::session::{SessionOptions, StagedSession, Upsets, write_session};
use stillcloth::staged::{self, Profile};

#[derive(clap::Args)]
pub struct Arguments {
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
    /// Play and film a session instead: frames named by their time in milliseconds, and truth.json.
    #[arg(long, conflicts_with = "frames")]
    session: bool,
    /// Attempts of the session.
    #[arg(long, default_value_t = 8, requires = "session")]
    attempts: usize,
    /// Few pictures, and short waits: for measuring many sessions.
    #[arg(long, requires = "session")]
    quick: bool,
    /// Nothing goes wrong with light, camera or stream.
    #[arg(long, requires = "session")]
    calm: bool,
}

pub fn run(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    if arguments.session { session(arguments) } else { frames(arguments) }
}

fn session(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    let usual = if arguments.quick { SessionOptions::quick() } else { SessionOptions::default() };
    let options = SessionOptions {
        attempts: arguments.attempts,
        profile: arguments.profile.unwrap_or(usual.profile),
        upsets: if arguments.calm { Upsets::NONE } else { usual.upsets },
        ..usual
    };
    let mut session = StagedSession::new(arguments.seed, options)?;
    let runs = session.truth().runs.clone();
    println!("{} frames of {:.0} s, runs {runs:?}", session.frame_count(), session.truth().ends_s);
    let mut written = 0;
    let all = session.frame_count();
    write_session(&arguments.dir, &mut session, || {
        written += 1;
        if written % 100 == 0 {
            println!("{written}/{all}");
        }
    })?;
    Ok(())
}

fn frames(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    let profiles = arguments.profile.map_or_else(|| Profile::ALL.to_vec(), |profile| vec![profile]);
    let seeds = arguments.seed..arguments.seed.saturating_add(arguments.frames);
    for profile in profiles {
        for (done, seed) in seeds.clone().enumerate() {
            let frame = staged::write_frame(&arguments.dir, profile, seed)?;
            let scene = frame.scene;
            println!(
                "{}/{} {} ({} balls, {}, {} cloth, {} light)",
                done + 1,
                arguments.frames,
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
