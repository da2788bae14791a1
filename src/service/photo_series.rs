//! A series of photographs, one of each rest, brought into the record as an attempt of a camera of its
//! own. What was brought before is known by its content, so a series can be brought again.

use super::{CameraName, FrameReader, ReaderError};
use crate::{
    camera::{
        picture::{self, PictureError, Taken, taken},
        source::{Folder, SourceError, SourceFrame},
    },
    digest::sha256,
    record::{NewRest, Record, RecordError},
};
use jiff::{SignedDuration, Timestamp};
use std::{
    fs,
    path::{Path, PathBuf},
};
use thiserror::Error;

/// Photographs that tell no time are so far apart: nobody knows, and a shot takes about so long.
const APART: SignedDuration = SignedDuration::from_secs(10);
/// Two of one moment still follow on each other.
const AT_LEAST: SignedDuration = SignedDuration::from_millis(1);

/// One photograph of a series.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Photo {
    pub path: PathBuf,
    pub at: Timestamp,
}

/// The photographs of a folder in the order in which they were taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PhotoSeries {
    pub photos: Vec<Photo>,
    pub times: PhotoTimes,
}

/// Where the times of a series come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PhotoTimes {
    /// The photographs tell them.
    Told,
    /// They tell their cameras' clocks, which were taken for UTC.
    ToldWithoutOffset,
    /// Some tell none: the order is that of the names, and the times are made up from that of the first
    /// file.
    MadeUp,
}

/// Why a series was not brought in.
#[derive(Debug, Error)]
pub enum PhotoError {
    #[error(transparent)]
    Folder(#[from] SourceError),
    #[error("cannot read {path}: {source}")]
    File { path: PathBuf, source: std::io::Error },
    #[error(
        "{path} is of {at}, and camera {camera} has a rest of {last} already: bring the series in under \
         another name, with --camera"
    )]
    Earlier { path: PathBuf, at: Timestamp, camera: CameraName, last: Timestamp },
    #[error(transparent)]
    Record(#[from] RecordError),
    #[error(transparent)]
    Reader(ReaderError),
}

/// What became of a photograph.
#[derive(Debug)]
pub enum PhotoFate {
    Kept { rest: i64, balls: usize },
    Known,
    NoPicture(PictureError),
    NoTable(ReaderError),
}

impl PhotoSeries {
    /// The series of a folder.
    ///
    /// # Errors
    /// Where there is no picture in it, or one cannot be read.
    pub fn of(folder: &Path) -> Result<Self, PhotoError> {
        let mut files = Folder::open(folder)?;
        let mut all: Vec<(PathBuf, Option<Taken>)> = Vec::new();
        while let Some(path) = files.next_path().map(Path::to_path_buf) {
            let Some(frame) = files.next_frame()? else { break };
            let told = match frame {
                SourceFrame::File(bytes) => taken(&bytes),
                SourceFrame::Decoded(_) => None,
            };
            all.push((path, told));
        }
        let told: Option<Vec<Taken>> = all.iter().map(|(_, told)| *told).collect();
        let Some(told) = told else { return Self::by_name(all) };
        let offset_known = told.iter().all(|taken| taken.offset_known);
        let times = if offset_known { PhotoTimes::Told } else { PhotoTimes::ToldWithoutOffset };
        let photos =
            all.into_iter().zip(told).map(|((path, _), taken)| Photo { path, at: taken.at });
        let mut photos: Vec<Photo> = photos.collect();
        // Of one moment those stay in the order of their names.
        photos.sort_by_key(|photo| photo.at);
        rising(&mut photos);
        Ok(Self { photos, times })
    }

    fn by_name(all: Vec<(PathBuf, Option<Taken>)>) -> Result<Self, PhotoError> {
        let mut photos = Vec::new();
        let mut at = None;
        for (path, _) in all {
            let next = match at {
                Some(at) => at,
                None => changed(&path)?,
            };
            photos.push(Photo { path, at: next });
            at = Some(next.checked_add(APART).unwrap_or(next));
        }
        Ok(Self { photos, times: PhotoTimes::MadeUp })
    }

    /// Reads the photographs and keeps what is new of them as rests of a camera; tells what became of
    /// each. No listener is told of them.
    ///
    /// # Errors
    /// Where a photograph is older than what the camera saw before, or the record refuses: what was
    /// kept until then stays, and the series can be brought again.
    pub fn bring(
        &self,
        record: &Record,
        reader: &mut dyn FrameReader,
        camera: &CameraName,
        mut tell: impl FnMut(&Path, PhotoFate),
    ) -> Result<(), PhotoError> {
        let known = record.pictures_of(camera.as_str())?;
        let mut last = known.iter().map(|(_, at)| *at).max();
        // Between photographs of one series nothing went unseen; before it, everything did.
        let mut goes_on = false;
        for Photo { path, at } in &self.photos {
            let bytes =
                fs::read(path).map_err(|source| PhotoError::File { path: path.clone(), source })?;
            let hash = sha256(&bytes);
            if known.iter().any(|(known, _)| *known == hash) {
                goes_on = true;
                tell(path, PhotoFate::Known);
                continue;
            }
            let decoded = picture::format_of(&bytes)
                .and_then(|format| Ok((format, picture::decode(&bytes)?)));
            let (format, frame) = match decoded {
                Ok(decoded) => decoded,
                Err(error) => {
                    tell(path, PhotoFate::NoPicture(error));
                    continue;
                }
            };
            let layout = match reader.read(&frame) {
                Ok(reading) => reading.layout,
                Err(error @ (ReaderError::NoTable(_) | ReaderError::Unreadable(_))) => {
                    tell(path, PhotoFate::NoTable(error));
                    continue;
                }
                Err(error) => return Err(PhotoError::Reader(error)),
            };
            if let Some(last) = last.filter(|last| last >= at) {
                let (path, camera) = (path.clone(), camera.clone());
                return Err(PhotoError::Earlier { path, at: *at, camera, last });
            }
            let balls = layout.balls.len();
            let since = last.filter(|_| !goes_on).map(|last| at.duration_since(last).as_millis());
            let kept = record.append_history(NewRest {
                at: *at,
                unseen_ms: since.and_then(|ms| u64::try_from(ms).ok()).unwrap_or(0),
                camera: camera.to_string(),
                layout,
                picture: bytes,
                format,
            })?;
            (last, goes_on) = (Some(*at), true);
            tell(path, PhotoFate::Kept { rest: kept.rest.id, balls });
        }
        Ok(())
    }
}

/// When a file was last changed.
fn changed(path: &Path) -> Result<Timestamp, PhotoError> {
    let refused = |source| PhotoError::File { path: path.into(), source };
    let at = fs::metadata(path).and_then(|about| about.modified()).map_err(refused)?;
    Ok(Timestamp::try_from(at).unwrap_or_default())
}

/// Makes each later than the one before.
fn rising(photos: &mut [Photo]) {
    for at in 1..photos.len() {
        let before = photos[at - 1].at;
        if photos[at].at <= before {
            photos[at].at = before.checked_add(AT_LEAST).unwrap_or(before);
        }
    }
}
