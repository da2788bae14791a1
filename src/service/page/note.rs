//! A note on a rest or an attempt: what is written, and the field to write it in.

use super::messages::say;
use crate::{record::NoteAbout, service::api::notes::MAX_CHARACTERS};
use maud::{Markup, html};

/// What the note is about.
const fn name(about: NoteAbout) -> &'static str {
    match about {
        NoteAbout::Rest => "rest",
        NoteAbout::Attempt => "attempt",
    }
}

/// The note with the field that changes it; `text` is empty where nothing is noted.
pub(super) fn note(rest: i64, about: NoteAbout, text: &str) -> Markup {
    let name = name(about);
    html! {
        section.note aria-labelledby="note-title" {
            h2 #note-title { (say!("note-on", about = name)) }
            @if !text.is_empty() { p #noted { (text) } }
            p #note-said tabindex="-1" role="status" {}
            details {
                summary { @if text.is_empty() { (say!("note-write")) } @else { (say!("note-change")) } }
                label.hidden for="note-text" { (say!("note-on", about = name)) }
                textarea #note-text rows="4" maxlength=(MAX_CHARACTERS) { (text) }
                button type="button" data-note=(rest) data-about=(name)
                    data-instead-of=(text) { (say!("note-keep")) }
            }
        }
    }
}
