//! The disk the record lies on: how much room is left, and whether it is another machine's.

use super::RecordError;
use std::path::Path;

/// Below this even rests are refused, so that there is always room to put the database in order
/// and to let pictures go.
const NEEDED_BYTES: u64 = 8 << 20;

/// What there is room for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Room {
    /// Rests with their pictures.
    Pictures,
    /// Rests alone: scores go on.
    RestsOnly,
    /// Nothing more.
    Nothing,
}

impl Room {
    fn of(free_bytes: u64, for_pictures_bytes: u64) -> Self {
        if free_bytes < NEEDED_BYTES {
            Self::Nothing
        } else if free_bytes < for_pictures_bytes {
            Self::RestsOnly
        } else {
            Self::Pictures
        }
    }
}

/// What there is room for in a folder; pictures have to leave so many bytes free.
///
/// # Errors
/// Where there is no room for a rest.
pub(super) fn room(data: &Path, for_pictures_bytes: u64) -> Result<Room, RecordError> {
    let free_bytes = free_bytes(data);
    match Room::of(free_bytes, for_pictures_bytes) {
        Room::Nothing => Err(RecordError::DiskFull { path: data.into(), free_bytes }),
        room => Ok(room),
    }
}

/// Bytes free for the user of this program. Where that is not known, whether something fits is
/// found out by writing it.
pub(super) fn free_bytes(data: &Path) -> u64 {
    match rustix::fs::statvfs(data) {
        Ok(disk) => disk.f_bavail.saturating_mul(disk.f_frsize),
        Err(error) => {
            tracing::debug!("how much room is left in {} is not known: {error}", data.display());
            u64::MAX
        }
    }
}

/// The kind of network share a folder lies on, by the file system's number in Linux's `statfs(2)`.
/// None for a disk of this machine, and where it cannot be told.
pub(super) fn network_share(data: &Path) -> Option<&'static str> {
    let kind = rustix::fs::statfs(data).ok()?.f_type;
    // The numbers are 32 bits wide; the field's sign and width differ from machine to machine.
    share_name(kind as u32)
}

fn share_name(file_system: u32) -> Option<&'static str> {
    Some(match file_system {
        0x0000_6969 => "NFS",
        0x0000_517b | 0xff53_4d42 | 0xfe53_4d42 => "SMB",
        0x0102_1997 => "9P",
        0x5346_414f | 0x6b41_4653 => "AFS",
        0x7375_7245 => "Coda",
        0x00c3_6400 => "Ceph",
        0x6573_5546 => "FUSE (which may be a network share)",
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pictures_stop_before_rests_do() {
        let bound = 1 << 30;
        assert_eq!(Room::of(bound, bound), Room::Pictures);
        assert_eq!(Room::of(bound - 1, bound), Room::RestsOnly);
        assert_eq!(Room::of(NEEDED_BYTES, bound), Room::RestsOnly);
        assert_eq!(Room::of(NEEDED_BYTES - 1, bound), Room::Nothing);
        assert_eq!(Room::of(NEEDED_BYTES, 0), Room::Pictures);
    }

    #[test]
    fn a_share_is_told_from_a_disk() {
        assert_eq!(share_name(0x6969), Some("NFS"));
        assert_eq!(share_name(0xfe53_4d42), Some("SMB"));
        assert_eq!(share_name(0xef53), None);
        assert_eq!(network_share(Path::new("/proc")), None);
    }
}
