//! What to heed where a camera hangs above people, and where people come into its picture.

use maud::{Markup, html};

/// For a camera or a phone that is put up over a table.
pub(super) fn mounting() -> Markup {
    html! {
        section.cautions #cautions aria-labelledby="cautions-title" {
            h2 #cautions-title { "Before you hang anything above people" }
            ul {
                li {
                    "Fix it to structure, not to a ceiling tile or a lamp's cable, and add a second, "
                    "independent tether of metal, for a phone too. A clamp alone is no mount."
                }
                li { "Work on a ladder with someone at its foot and nobody under it. Never stand on the table." }
                li {
                    "Do not drill where you do not know what lies behind. A new mains outlet or a fixed "
                    "lamp is an electrician's work; keep chargers' cables out of reach of cues."
                }
                li {
                    "A phone that charges and films gets warm: keep it out of the lamp's heat, and "
                    "look after it."
                }
                li {
                    "Other people come into the picture: tell them, ask the room's owner, and turn it "
                    "off where somebody objects. The law of the place on filming holds."
                }
                li { "Local building, electrical and fire codes go before anything said here." }
            }
        }
    }
}
