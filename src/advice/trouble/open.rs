//! Whether a ball has an open pocket, judged by hits.
//!
//! Input: object balls at rest. Output: whether one of them can be potted from somewhere near it.
//! Method: the cue ball is put down in thought at several angles behind the ball, where there is
//! room; a pot that this player makes more often than not by the fast formula is played once in
//! `motion`, among all the balls. Not modelled: pots from far away alone, with side.

use crate::advice::advisor::Advisor;
use crate::advice::direct::{self, Direct};
use crate::advice::outcome::{self, CUE};
use crate::advice::window::Window;
use crate::motion::Placed;
use crate::table::TablePoint;

/// Cuts that are tried, in degrees, and the cue ball's distances from the meeting, in mm.
const CUTS_DEG: [f64; 7] = [0.0, 25.0, -25.0, 45.0, -45.0, 62.0, -62.0];
const BACK_MM: [f64; 2] = [160.0, 70.0];
/// A pot is open where the player makes it more often than not.
pub(super) const OPEN_CHANCE: f64 = 0.5;

impl Advisor<'_> {
    /// The object balls without an open pocket, by id.
    pub(in crate::advice) fn closed(&mut self, lying: &[Placed]) -> Vec<usize> {
        let shut = lying.iter().filter(|ball| !self.is_open(lying, ball));
        shut.map(|ball| ball.id).collect()
    }

    /// Whether a ball among object balls has an open pocket.
    pub(super) fn is_open(&mut self, lying: &[Placed], ball: &Placed) -> bool {
        let mut windows: Vec<(usize, Window)> = Vec::new();
        for (pocket, whole) in self.windows.about(ball.place).into_iter().enumerate() {
            let open =
                whole.and_then(|whole| direct::open_window(self.bed, lying, ball, pocket, whole));
            windows.extend(open.map(|open| (pocket, open)));
        }
        windows.sort_by(|a, b| b.1.width_rad().total_cmp(&a.1.width_rad()));
        let mut balls = vec![Placed { id: CUE, place: ball.place }];
        balls.extend_from_slice(lying);
        windows.into_iter().any(|(pocket, window)| {
            let places = self.cue_places(lying, ball, &window);
            places.into_iter().any(|cue| {
                balls[0].place = cue;
                self.is_potted(&balls, ball, (pocket, window))
            })
        })
    }

    /// Places for the cue ball behind a ball that is to run into a window.
    fn cue_places(&self, lying: &[Placed], ball: &Placed, window: &Window) -> Vec<TablePoint> {
        let table = self.bed.table();
        let (diameter, least) = (table.ball_diameter_mm, table.ball_radius_mm());
        let meeting = ball.place.moved(window.middle_rad(), -diameter);
        let free = |place: &TablePoint| {
            (least..=table.length_mm - least).contains(&place.x_mm)
                && (least..=table.width_mm - least).contains(&place.y_mm)
                && lying.iter().all(|other| other.place.distance_mm(*place) > diameter)
        };
        let at = |cut_deg: f64, back_mm: f64| {
            meeting.moved(window.middle_rad() + cut_deg.to_radians(), -back_mm)
        };
        let places = CUTS_DEG.iter().flat_map(|cut| BACK_MM.map(|back| at(*cut, back)));
        places.filter(free).collect()
    }

    fn is_potted(
        &mut self,
        balls: &[Placed],
        ball: &Placed,
        (pocket, window): (usize, Window),
    ) -> bool {
        let mut only = [None; 6];
        only[pocket] = Some(window);
        let of_ball = |place| if place == ball.place { only } else { [None; 6] };
        let likely = |direct: &Direct| direct.chance >= OPEN_CHANCE;
        let directs = direct::directs(self.bed, &self.player, balls, of_ball);
        let Some(direct) = directs.into_iter().find(likely) else { return false };
        let played =
            self.natural_hit(balls, &direct).and_then(|hit| outcome::play(self.bed, balls, &hit));
        played.is_some_and(|(played, _)| played.has_dropped(ball.id, pocket))
    }
}
