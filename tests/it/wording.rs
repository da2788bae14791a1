//! What the pages say stands in `i18n/` alone: no page or script has words of its own, and no message
//! is there for nothing.

use std::{
    collections::{BTreeMap, BTreeSet},
    fs,
    path::{Path, PathBuf},
};

const PAGES: &str = "src/service/page";
const MESSAGES: &str = "i18n/en/stillcloth.ftl";

/// What looks like words to [`reads_like_words`] and is none of a page: the name of the program, what
/// HTML and CSS name, keys and faults as browsers name them, a line of the log.
const NO_WORDS: [&str; 16] = [
    "Stillcloth",
    " · Stillcloth",
    "light dark",
    "way missed",
    "noopener noreferrer nofollow ugc",
    "input, textarea, select",
    "the pages' messages cannot be read: {error}",
    "Enter",
    "Delete",
    "Backspace",
    "ArrowLeft",
    "ArrowRight",
    "ArrowUp",
    "ArrowDown",
    "NotAllowedError",
    "NotFoundError",
];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The pages' files of a kind.
fn files(ending: &str) -> Vec<PathBuf> {
    let files = fs::read_dir(root().join(PAGES)).unwrap().map(|entry| entry.unwrap().path());
    let files: Vec<PathBuf> =
        files.filter(|path| path.extension().is_some_and(|has| has == ending)).collect();
    assert!(files.len() > 15, "{} files .{ending} in {PAGES}", files.len());
    files
}

/// A file's text without its tests.
fn source(path: &Path) -> String {
    let text = fs::read_to_string(path).unwrap();
    text.split("#[cfg(test)]").next().unwrap_or_default().to_string()
}

/// All that stands in quotes of one of some kinds, comments left out. What a script puts into a text is
/// left out too.
fn literals(source: &str, quotes: &[char]) -> Vec<String> {
    let mut found = Vec::new();
    let mut rest = source.chars().peekable();
    while let Some(now) = rest.next() {
        match now {
            '/' if rest.peek() == Some(&'/') => {
                rest.by_ref().find(|c| *c == '\n');
            }
            // A quote as a character of Rust.
            '\'' if !quotes.contains(&'\'') && rest.peek() == Some(&'"') => {
                rest.next();
            }
            quote if quotes.contains(&quote) => {
                let mut text = String::new();
                let mut depth = 0;
                while let Some(c) = rest.next() {
                    match c {
                        '\\' => {
                            rest.next();
                        }
                        '$' if quote == '`' && rest.peek() == Some(&'{') => depth += 1,
                        '}' if depth > 0 => depth -= 1,
                        _ if depth > 0 => {}
                        _ if c == quote => break,
                        _ => text.push(c),
                    }
                }
                found.push(text);
            }
            _ => {}
        }
    }
    found
}

/// Whether a text has two words of small letters in a row, or begins as a word of a sentence does.
fn reads_like_words(text: &str) -> bool {
    let words: Vec<&str> = text.split(' ').collect();
    let is_word = |word: &str| {
        let letters = word.trim_end_matches([',', '.', ':', ';', '…']);
        letters.len() > 1 && letters.chars().all(|c| c.is_ascii_lowercase() || c == '\'')
    };
    let sentence = words.windows(2).any(|two| is_word(two[0]) && is_word(two[1]));
    let mut letters = text.chars().skip_while(|c| !c.is_alphabetic());
    let named = letters.next().is_some_and(char::is_uppercase)
        && letters.next().is_some_and(char::is_lowercase);
    sentence || named
}

/// What of the pages' files of a kind reads like words, with its file.
fn words_in(ending: &str, quotes: &[char]) -> Vec<String> {
    let mut found = Vec::new();
    for path in files(ending) {
        let words = literals(&source(&path), quotes).into_iter();
        let words =
            words.filter(|text| reads_like_words(text) && !NO_WORDS.contains(&text.as_str()));
        found.extend(words.map(|text| format!("{}: {text:?}", path.display())));
    }
    found
}

#[test]
fn no_page_has_words_of_its_own() {
    let found = words_in("rs", &['"']);
    assert!(found.is_empty(), "these belong into {MESSAGES}:\n{}", found.join("\n"));
}

#[test]
fn no_script_of_a_page_has_words_of_its_own() {
    let found = words_in("js", &['"', '`']);
    assert!(found.is_empty(), "these belong into i18n/en/scripts.js:\n{}", found.join("\n"));
}

#[test]
fn words_are_told_from_what_is_none() {
    for words in ["Balls", " balls too many", "Say the count", "it is there, and goes on", "– Run"]
    {
        assert!(reads_like_words(words), "{words}");
    }
    for none in ["M-9 0H9", "0 0 60 60", "image/svg+xml", "setup-choose-camera", "no-store", "SVG"]
    {
        assert!(!reads_like_words(none), "{none}");
    }
    let page = "p { \"Hear me\" } // \"not me\"\nlet c = '\"'; `it is ${n ? \"x\" : 1} there`";
    assert_eq!(literals(page, &['"', '`']), ["Hear me", "it is  there"]);
}

/// Each message with its text.
fn messages() -> BTreeMap<String, String> {
    let text = fs::read_to_string(root().join(MESSAGES)).unwrap();
    let mut messages: BTreeMap<String, String> = BTreeMap::new();
    let mut now = String::new();
    for line in text.lines().filter(|line| !line.starts_with('#') && !line.is_empty()) {
        match line.split_once('=') {
            Some((name, begins)) if line.starts_with(char::is_alphabetic) => {
                now = name.trim().to_string();
                assert!(
                    messages.insert(now.clone(), begins.into()).is_none(),
                    "{now} is there twice"
                );
            }
            _ => *messages.entry(now.clone()).or_default() += line,
        }
    }
    messages
}

/// Messages that the pages ask for; whether with values.
fn asked_for() -> BTreeSet<(String, bool)> {
    let mut asked = BTreeSet::new();
    for path in files("rs") {
        for call in source(&path).split("say!(").skip(1) {
            let Some(call) = call.trim_start().strip_prefix('"') else { continue };
            let (name, behind) = call.split_once('"').unwrap();
            asked.insert((name.to_string(), !behind.trim_start().starts_with(')')));
        }
    }
    asked
}

#[test]
fn every_message_is_said_somewhere_with_its_values() {
    let messages = messages();
    let asked = asked_for();
    assert!(asked.len() > 300, "{}", asked.len());
    let names: BTreeSet<&String> = asked.iter().map(|(name, _)| name).collect();
    let unused: Vec<&String> = messages.keys().filter(|name| !names.contains(name)).collect();
    assert!(unused.is_empty(), "nothing says {unused:?}");
    // One that is asked for with other values does not compile; with none at all it would.
    for (name, with_values) in &asked {
        assert_eq!(messages[name].contains("{ $"), *with_values, "the values of {name}");
    }
}

#[test]
fn a_message_has_no_element_that_stays_open() {
    for (name, text) in messages() {
        let count = |mark: &str| text.matches(mark).count();
        assert_eq!(count("<"), 2 * count("</"), "{name}: {text}");
    }
}
