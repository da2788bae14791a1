//! What break-shot advice gains over a fixed medium stun, for three levels of player.

use std::error::Error;
use std::fmt::Write as _;
use stillcloth::advice::Level;
use stillcloth::advice::break_shot::{self, Estimate, STUN_M_S};
use stillcloth::motion::{Bed, Physics};
use stillcloth::table::TableSize;

/// A table of `layouts` random closing layouts for each level, on a table of 9 ft.
pub fn table(layouts: usize, seed: u64) -> Result<String, Box<dyn Error>> {
    let bed = Bed::new(&TableSize::NINE_FOOT, &Physics::default())?;
    let mut text = format!(
        "break shots: recommended hit and a medium stun at {STUN_M_S} m/s, ± 95 %\n\
         level     layouts          loose balls                  next shot\n"
    );
    for level in Level::ALL {
        let Some(measured) = break_shot::against_stun(&bed, &level.prior(), layouts, seed) else {
            continue;
        };
        let loose = (measured.advised.loose_balls, measured.stun.loose_balls);
        let next = (measured.advised.next_shot, measured.stun.next_shot);
        writeln!(
            text,
            "{:9} {:5}   {}   {}",
            level.name(),
            measured.layouts,
            row(loose, measured.gain_loose_balls),
            row(next, measured.gain_next_shot)
        )?;
    }
    text.push_str(
        "advised, stun, gain layout by layout; a hit that ends the run leaves no loose ball\n",
    );
    Ok(text)
}

fn row((advised, stun): (Estimate, Estimate), gain: Estimate) -> String {
    let told = |value: Estimate| format!("{:.2} ±{:.2}", value.mean, value.plus_minus);
    format!("{} {} {:>12}", told(advised), told(stun), format!("+{}", told(gain)))
}
