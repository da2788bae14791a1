//! The built-in demo: a few staged frames inside the program, shown over and over, so that
//! layouts appear with no camera at hand.

use super::SourceFrame;
use std::time::Duration;

/// Long enough to look at each layout.
pub(super) const PACE: Duration = Duration::from_secs(5);

const FRAMES: [&[u8]; 6] = [
    include_bytes!("../../../testdata/frames/club-071005.jpg"),
    include_bytes!("../../../testdata/frames/club-071002.jpg"),
    include_bytes!("../../../testdata/frames/club-071003.jpg"),
    include_bytes!("../../../testdata/frames/club-071000.jpg"),
    include_bytes!("../../../testdata/frames/club-071006.jpg"),
    include_bytes!("../../../testdata/frames/club-071004.jpg"),
];

/// Walks through the built-in frames without end.
#[derive(Debug, Default)]
pub struct Demo {
    shown: usize,
}

impl Demo {
    pub(super) fn next_frame(&mut self) -> SourceFrame {
        let bytes = FRAMES.iter().cycle().nth(self.shown % FRAMES.len()).copied();
        self.shown = (self.shown + 1) % FRAMES.len();
        SourceFrame::File(bytes.unwrap_or_default().to_vec())
    }
}
