//! `stillcloth stage`: makes up frames with exact labels, for measuring and tests.

use std::error::Error;
use std::path::PathBuf;
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
}

pub fn run(arguments: &Arguments) -> Result<(), Box<dyn Error>> {
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
