//! The messages of `i18n/`: what the pages say, in the language that they are in.
//!
//! `say!` asks for a message by its name and with its values; one that is not there, or has other
//! values, does not compile. A sentence with elements in it is one message all the same: `weave` puts
//! the page's elements where the sentence has them. No page knows a language.

use i18n_embed::{
    I18nAssets,
    I18nEmbedError::{self, ErrorParsingLocale},
    LanguageLoader,
    fluent::{FluentLanguageLoader, fluent_language_loader},
};
use maud::{Markup, PreEscaped, html};
use std::{borrow::Cow, sync::LazyLock};

/// A language that the pages can be in.
pub(super) struct Language {
    /// As BCP 47 has it; the name of its folder too.
    pub(super) tag: &'static str,
    messages: &'static str,
    /// The words of the scripts, as a script.
    pub(super) scripts: &'static str,
}

const ENGLISH: Language = Language {
    tag: "en",
    messages: include_str!("../../../i18n/en/stillcloth.ftl"),
    scripts: include_str!("../../../i18n/en/scripts.js"),
};

/// All languages. English has every message; what another lacks is said in English.
const LANGUAGES: &[Language] = &[ENGLISH];

/// The language that the pages are in.
pub(super) const SPOKEN: Language = ENGLISH;

impl Language {
    fn file(&self) -> String {
        format!("{}/{}.ftl", self.tag, env!("CARGO_PKG_NAME"))
    }
}

/// The files of all languages, as they were built into the program.
struct Built;

impl I18nAssets for Built {
    fn get_files(&self, path: &str) -> Vec<Cow<'_, [u8]>> {
        let of_path = LANGUAGES.iter().filter(|language| language.file() == path);
        of_path.map(|language| Cow::Borrowed(language.messages.as_bytes())).collect()
    }

    fn filenames_iter(&self) -> Box<dyn Iterator<Item = String> + '_> {
        Box::new(LANGUAGES.iter().map(Language::file))
    }
}

/// Texts that never change, read when the first of them is asked for.
pub(super) static MESSAGES: LazyLock<FluentLanguageLoader> = LazyLock::new(|| {
    let messages = fluent_language_loader!();
    // A test holds that they can be read: who looks at a page is not the one to be told.
    if let Err(error) = load(&messages) {
        tracing::error!("the pages' messages cannot be read: {error}");
    }
    messages
});

fn load(messages: &FluentLanguageLoader) -> Result<(), I18nEmbedError> {
    let spoken = SPOKEN.tag.parse();
    let spoken = spoken.map_err(|error| ErrorParsingLocale(SPOKEN.tag.into(), error))?;
    messages.load_languages(&Built, &[spoken])?;
    // Values stand in their sentences as they are, with no marks of direction around them.
    messages.set_use_isolating(false);
    Ok(())
}

/// A message with its values, as text: `say!("count-balls", balls = 3)`.
macro_rules! say {
    ($message:literal $(, $name:ident = $value:expr)* $(,)?) => {
        // In brackets: what `fl!` does with a value it would do with the last part of it alone.
        i18n_embed_fl::fl!(
            $crate::service::page::messages::MESSAGES, $message $(, $name = ($value))*
        )
    };
}
pub(super) use say;

/// Elements of HTML that a message may have by their own names.
const PLAIN: [&str; 4] = ["b", "code", "em", "strong"];

/// Stands for a `<` of a value in a message that is woven, where it is to begin no element.
const BEGINS_NOTHING: char = '\u{e000}';

/// A value that somebody wrote, for a message that is woven.
pub(super) fn plain(value: &str) -> String {
    value.replace('<', &BEGINS_NOTHING.to_string())
}

/// A message with elements in it: what stands between `<link>` and `</link>` comes into the element
/// that is given under that name, behind what it has in it already.
pub(super) fn weave(message: &str, elements: &[(&str, Markup)]) -> Markup {
    let mut woven = String::new();
    let mut text = String::new();
    let mut rest = message;
    while let Some(next) = rest.chars().next() {
        if let Some((side, behind)) = tag(rest, elements) {
            woven += &html! { (std::mem::take(&mut text)) }.into_string();
            woven += &side;
            rest = behind;
        } else {
            text.push(if next == BEGINS_NOTHING { '<' } else { next });
            rest = &rest[next.len_utf8()..];
        }
    }
    woven += &html! { (text) }.into_string();
    PreEscaped(woven)
}

/// The side of an element that a text begins with, as HTML, and what stands behind it.
fn tag<'a>(text: &'a str, elements: &[(&str, Markup)]) -> Option<(String, &'a str)> {
    let (name, behind) = text.strip_prefix('<')?.split_once('>')?;
    let (closes, name) = name.strip_prefix('/').map_or((false, name), |name| (true, name));
    if let Some((_, element)) = elements.iter().find(|(given, _)| *given == name) {
        let (begins, ends) = element.0.split_at(element.0.rfind("</")?);
        return Some((if closes { ends } else { begins }.into(), behind));
    }
    let side = if closes { format!("</{name}>") } else { format!("<{name}>") };
    PLAIN.contains(&name).then_some((side, behind))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_language_can_be_read_and_has_no_other_messages_than_english() {
        let messages = fluent_language_loader!();
        load(&messages).unwrap();
        let names = |language: &Language| -> Vec<String> {
            let begins = |line: &str| line.split_once(" =").map(|(name, _)| name.to_string());
            let lines =
                language.messages.lines().filter(|line| line.starts_with(char::is_alphabetic));
            lines.filter_map(begins).collect()
        };
        let english = names(&ENGLISH);
        assert!(english.len() > 300, "{}", english.len());
        for name in &english {
            assert!(messages.has(name), "{name} cannot be read");
        }
        for language in LANGUAGES {
            for name in names(language) {
                assert!(english.contains(&name), "{name} of {} is not asked for", language.tag);
            }
        }
    }

    #[test]
    fn values_stand_in_sentences_without_marks_and_counts_have_their_words() {
        assert_eq!(say!("count-balls", balls = 1), "1 ball");
        assert_eq!(say!("count-balls", balls = 0), "0 balls");
        assert_eq!(
            say!("rest-facts", day = "D", camera = "C", layout = "L"),
            "<day>D</day>, camera C: L."
        );
    }

    #[test]
    fn elements_come_where_the_sentence_has_them() {
        let link = || [("link", html! { a href="/x?a=1&b=2" {} })];
        let woven = |text: &str| weave(text, &link()).into_string();
        assert_eq!(
            woven("See <link>this & that</link>, or <code>x</code>."),
            "See <a href=\"/x?a=1&amp;b=2\">this &amp; that</a>, or <code>x</code>."
        );
        let list = [("list", html! { select { option { "one" } } })];
        assert_eq!(
            weave("A <list></list> of", &list).into_string(),
            "A <select><option>one</option></select> of"
        );
    }

    #[test]
    fn what_somebody_wrote_becomes_no_element() {
        let said = format!("<strong>{}</strong>", plain("</strong><link>a</link><script>"));
        assert_eq!(
            weave(&said, &[("link", html! { a href="/" {} })]).into_string(),
            "<strong>&lt;/strong&gt;&lt;link&gt;a&lt;/link&gt;&lt;script&gt;</strong>"
        );
        assert_eq!(weave("<script>1 < 2", &[]).into_string(), "&lt;script&gt;1 &lt; 2");
    }
}
