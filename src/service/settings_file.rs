//! The settings file of the service: TOML, with the same names and meanings as the command line.
//!
//! A key that is none is refused with the nearest one that is, and a value that cannot be is
//! refused where it stands, before anything starts.

use super::{CameraName, webhooks::Listener};
use crate::{advice::Level, record::Retention, table::TableSize};
use serde::{Deserialize, Deserializer, de::Error as _};
use std::{
    fmt::Display,
    net::SocketAddr,
    path::{Path, PathBuf},
    str::FromStr,
};
use thiserror::Error;

/// What a settings file holds. What it leaves out is as it is without a file.
#[derive(Debug, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SettingsFile {
    pub data: Option<PathBuf>,
    pub listen: Option<SocketAddr>,
    /// The size of every table that has none of its own.
    #[serde(default, deserialize_with = "if_there")]
    pub table: Option<TableSize>,
    /// Whether the network may come in.
    #[serde(default)]
    pub lan: bool,
    /// Names by which the service is reached, besides this machine's own.
    #[serde(default)]
    pub hosts: Vec<String>,
    /// The user's own certificate and its key, in PEM.
    pub certificate: Option<PathBuf>,
    pub key: Option<PathBuf>,
    /// How long frames are kept.
    #[serde(default)]
    pub pictures: Retention,
    #[serde(default)]
    pub cameras: Vec<CameraSection>,
    #[serde(default)]
    pub listeners: Vec<Listener>,
    /// Each fresh rest is thought about.
    pub advice: Option<AdviceSection>,
}

/// Advice in the background.
#[derive(Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AdviceSection {
    /// For whom: beginner, club or expert.
    #[serde(deserialize_with = "from_text")]
    pub player: Level,
}

/// A camera in a settings file.
#[derive(Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CameraSection {
    #[serde(deserialize_with = "from_text")]
    pub name: CameraName,
    /// As after `--camera`.
    pub source: String,
    #[serde(default, deserialize_with = "if_there")]
    pub table: Option<TableSize>,
    /// A calibration file that is taken instead of the one in the data folder.
    pub calibration: Option<PathBuf>,
}

/// Why a settings file was refused.
#[derive(Debug, Error)]
pub enum SettingsError {
    #[error("cannot read the settings {path}: {source}")]
    Unreadable { path: PathBuf, source: std::io::Error },
    #[error("the settings {path}, line {line}: {why}")]
    Malformed { path: PathBuf, line: usize, why: String },
}

/// A value that is written as a text, as on the command line.
fn from_text<'de, D, T>(value: D) -> Result<T, D::Error>
where
    D: Deserializer<'de>,
    T: FromStr<Err: Display>,
{
    String::deserialize(value)?.parse().map_err(D::Error::custom)
}

/// The same for what may be left out.
fn if_there<'de, D, T>(value: D) -> Result<Option<T>, D::Error>
where
    D: Deserializer<'de>,
    T: FromStr<Err: Display>,
{
    from_text(value).map(Some)
}

impl SettingsFile {
    /// Reads a settings file.
    ///
    /// # Errors
    /// Where it cannot be read, or something in it is no setting.
    pub fn load(path: &Path) -> Result<Self, SettingsError> {
        let text = std::fs::read_to_string(path)
            .map_err(|source| SettingsError::Unreadable { path: path.into(), source })?;
        toml::from_str(&text).map_err(|error| SettingsError::Malformed {
            path: path.into(),
            line: line_of(&text, error.span().map_or(0, |span| span.start)),
            why: explained(error.message()),
        })
    }
}

/// The line of a byte, counted from 1.
fn line_of(text: &str, byte: usize) -> usize {
    1 + text.bytes().take(byte).filter(|&byte| byte == b'\n').count()
}

/// serde's words on an unknown key, with the nearest known one; other words as they are.
fn explained(message: &str) -> String {
    let mut names = message.split('`').skip(1).step_by(2);
    let nearest = names.next().filter(|_| message.starts_with("unknown field")).and_then(|key| {
        let distance = |known: &&str| strsim::damerau_levenshtein(key, known);
        names.min_by_key(distance).map(|known| (key, known))
    });
    match nearest {
        Some((key, known)) => {
            let rest = message.split_once(", ").map_or("", |(_, rest)| rest);
            format!("there is no setting `{key}`, did you mean `{known}`? ({rest})")
        }
        None => message.trim().replace('\n', " "),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn load(text: &str) -> Result<SettingsFile, String> {
        toml::from_str(text).map_err(|error: toml::de::Error| {
            let line = line_of(text, error.span().map_or(0, |span| span.start));
            format!("{line}: {}", explained(error.message()))
        })
    }

    #[test]
    fn settings_are_named_as_on_the_command_line() {
        let file = load(
            "data = '/var/lib/stillcloth'\nlisten = '0.0.0.0:8014'\ntable = '8ft'\n\
            lan = true\nhosts = ['table.example']\ncertificate = 'c.pem'\nkey = 'k.pem'\n\
            [pictures]\nkeep_days = 30\nmax_gb = 20\n[[cameras]]\nname = 'table-1'\nsource = 'rtsp://cam/1'\ntable = '2540x1270'\n\
            calibration = 'table-1.json'\n[[cameras]]\nname = 'phone'\nsource = 'pushed'\n\
            [[listeners]]\nurl = 'http://127.0.0.1:9000/layouts'\n[advice]\nplayer = 'club'\n",
        )
        .unwrap();
        assert_eq!(file.table.map(|table| table.name()), Some("8 ft".to_string()));
        assert_eq!(file.cameras[0].table, Some(TableSize::NINE_FOOT));
        assert_eq!(file.cameras[1].name.as_str(), "phone");
        assert_eq!(file.listeners.len(), 1);
        assert!(file.lan && file.hosts == ["table.example"] && file.key.is_some());
        let kept = Retention { keep_days: Some(30), max_gb: Some(20.0), ..Retention::default() };
        assert_eq!(file.pictures, kept);
        assert_eq!(file.advice, Some(AdviceSection { player: Level::Club }));
        assert_eq!(load("").unwrap(), SettingsFile::default());
    }

    #[test]
    fn a_key_that_is_none_is_refused_with_the_nearest_that_is() {
        for (text, line, nearest) in [
            ("date = 'x'", 1, "`data`"),
            ("listen = '0.0.0.0:1'\n[[camera]]\nsource = '0'", 2, "`cameras`"),
            ("[[cameras]]\nname = 'a'\nsorce = 'demo'", 3, "`source`"),
            ("[[cameras]]\nname = 'a'\nsource = 'demo'\ncalibraton = 'x'", 4, "`calibration`"),
            ("[[listeners]]\nadress = 'http://a/'", 2, "`url`"),
            ("[pictures]\nkeep_day = 3", 2, "`keep_days`"),
        ] {
            let refused = load(text).unwrap_err();
            assert!(refused.starts_with(&format!("{line}: ")), "{refused}");
            assert!(refused.contains(&format!("did you mean {nearest}?")), "{refused}");
        }
    }

    #[test]
    fn a_value_that_cannot_be_is_refused_in_the_words_of_the_command_line() {
        for (text, words) in [
            ("table = '10ft'", "10ft"),
            ("listen = 'here'", "socket address"),
            ("[[cameras]]\nname = 'a b'\nsource = 'demo'", "cannot name a camera"),
            ("[[cameras]]\nname = 'a'", "source"),
            ("[advice]\nplayer = 'master'", "beginner, club or expert"),
            ("[[listeners]]\nurl = 'ftp://a/'", "http"),
            ("data = ", "string"),
            ("[pictures]\nmax_gb = -1", "gigabytes"),
            ("[pictures]\nmin_free_gb = nan", "gigabytes"),
        ] {
            let refused = load(text).unwrap_err();
            assert!(refused.contains(words), "{refused}");
        }
    }
}
