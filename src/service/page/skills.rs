//! What would change most with a tenth less error of one kind, on the progress page: what was found, how
//! far the search is, or the button that begins it.

use super::messages::say;
use crate::service::skills::SkillsState;
use maud::{Markup, html};

pub(super) fn section(camera: &str, state: &SkillsState) -> Markup {
    // What was found on another table is told there.
    let of_this = match state {
        SkillsState::NotAsked => false,
        SkillsState::Running { camera: of, .. }
        | SkillsState::Found { camera: of, .. }
        | SkillsState::Nothing { camera: of, .. } => of == camera,
    };
    let busy = matches!(state, SkillsState::Running { .. });
    html! {
        section.skills aria-labelledby="skills" {
            h2 #skills { (say!("skills-heading")) }
            @match state {
                SkillsState::Found { found, .. } if of_this => {
                    div.said { @for sentence in found.in_words() { p { (sentence) } } }
                }
                SkillsState::Nothing { why, .. } if of_this => p { (why) },
                SkillsState::Running { camera: of, .. } if !of_this => {
                    p { (say!("skills-other", camera = of)) }
                }
                _ => p { (say!("skills-not-asked")) }
            }
            p #skills-said role="status" data-running=(busy) {
                @if let SkillsState::Running { done, of, .. } = state {
                    (say!("skills-running", done = *done, of = *of))
                }
            }
            button #find-skills type="button" disabled[busy] {
                @if of_this && !busy { (say!("skills-again")) } @else { (say!("skills-find")) }
            }
        }
    }
}
