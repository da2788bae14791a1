//! Reading a still picture, and telling it as a rest.
//!
//! Input: a still picture and what is known of the table before. Output: its reading; and once it is confirmed
//! the rest, with how balls rolled to it, where its layout is another than that of the last.

use super::super::bed::BedView;
use super::super::obstruction::Obstruction;
use super::super::read::{Before, ReadError, Reading};
use super::likeness::Known;
use super::unmoved::unmoved;
use super::{Look, Rest, RestWatch, TableState, centres, millis, same};
use crate::layout::Layout;
use image::RgbImage;
use std::time::Duration;

impl RestWatch {
    /// Reads a still picture, by what is known of the table before.
    pub(super) fn read_over(
        &self,
        frame: &RgbImage,
        view: &BedView,
    ) -> Result<(Reading, Option<Obstruction>), ReadError> {
        let lay = self.rest.as_ref().map(|rest| centres(&rest.layout)).unwrap_or_default();
        let watched = self.rest.as_ref().filter(|rest| rest.glance.is_some());
        let stay = watched.map(|rest| unmoved((&rest.layout, &rest.view), view, &self.steady));
        let stay = stay.unwrap_or_default();
        let before = Before { steady: &self.steady, lay: &lay, stay: &stay };
        let (mut reading, thing) = self.reader.read_view(frame, view, before)?;
        if let Some(rest) = watched {
            same::know_again(&rest.layout, &mut reading.layout);
        }
        Ok((reading, thing))
    }

    /// Whether all balls lie beside where they did, by the same way.
    pub(super) fn is_shifted(&self, layout: &Layout) -> bool {
        let watched = self.rest.as_ref().filter(|rest| rest.glance.is_some());
        watched.is_some_and(|rest| same::shifted(&rest.layout, layout))
    }

    /// The table is at rest, and so it looks; it is told where its layout is another than before.
    pub(super) fn at_rest(
        &mut self,
        mut reading: Reading,
        still: Option<Known>,
        (view, at): (BedView, Duration),
    ) -> Look {
        self.steady.learn(&view, &centres(&reading.layout), reading.layout.table.ball_radius_mm());
        self.obstructed = None;
        let rolling = std::mem::take(&mut self.rolling);
        let mut look = self.told(TableState::Resting);
        match &mut self.rest {
            Some(rest) if same::same(&rest.layout, &reading.layout, rest.glance.is_none()) => {
                if rest.glance.is_none() {
                    rest.layout = reading.layout;
                }
                (rest.glance, rest.view) = (still, view);
            }
            rest => {
                let watched = rest.as_ref().is_some_and(|rest| rest.glance.is_some());
                if let Some(known) = still.as_ref().filter(|_| watched) {
                    let (rolled, way) = rolling.led_to(&self.raster, known);
                    reading.layout.rolled = Some(rolled);
                    reading.layout.lost_rolling_ms = rolling.lost().map(|since| millis(at - since));
                    look.rolled_out = way;
                }
                *rest = Some(Rest { layout: reading.layout.clone(), glance: still, view });
                look.rest = Some(reading);
            }
        }
        look
    }
}
