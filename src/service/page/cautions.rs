//! What to heed where a camera hangs above people, and where people come into its picture.

use super::messages::say;
use maud::{Markup, html};

/// For a camera or a phone that is put up over a table.
pub(super) fn mounting() -> Markup {
    html! {
        section.cautions #cautions aria-labelledby="cautions-title" {
            h2 #cautions-title { (say!("cautions-heading")) }
            ul {
                li { (say!("cautions-tether")) }
                li { (say!("cautions-ladder")) }
                li { (say!("cautions-drilling")) }
                li { (say!("cautions-warm")) }
                li { (say!("cautions-people")) }
                li { (say!("cautions-codes")) }
            }
        }
    }
}
