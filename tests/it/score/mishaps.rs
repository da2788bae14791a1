//! What goes wrong between the table and the program: restarts, cuts, rests read amiss.
//!
//! Whether layouts determine what happened is said beside each: nothing was played and the next
//! rest is read well (they do), or a shot, a hand or a whole rack lies in between (they do not).

use super::{player::Player, world::Misread};

impl Player {
    /// Something goes wrong before a shot; `first` where the table is racked.
    pub(super) fn mishap(&mut self, first: bool) {
        match self.world.random.below(6) {
            0 => self.restart(),
            1 => self.cut(first),
            2 => self.misread_rest(Misread::Lacks, first),
            3 => self.misread_rest(Misread::LacksCue, first),
            4 => self.misread_rest(Misread::CueAsObject, first),
            _ => self.misread_rest(Misread::CueSwapped, first),
        }
    }

    /// The program is started anew while no shot, one, two or very many are played.
    fn restart(&mut self) {
        self.world.wait(60.0, 3000.0);
        let rests = match self.world.random.below(8) {
            0..4 => {
                // Nobody played: the table lies as it lay.
                self.world.look_away(0);
                self.rest();
                return;
            }
            4 | 5 => 0,
            6 => 1,
            _ => 5 + self.world.random.below(60) as u32,
        };
        self.world.look_away(rests);
        self.doubt();
    }

    /// A hand at the table while nobody watches: nobody can tell it from a shot.
    fn cut(&mut self, first: bool) {
        if first {
            return;
        }
        self.world.wait(5.0, 120.0);
        self.world.look_away(0);
        let what = self.world.random.below(3);
        if what != 0 {
            self.world.scatter(1);
        }
        if what != 1 {
            self.world.cue = Some(self.world.free_place());
        }
        self.doubt();
        self.rest();
    }

    /// A rest, with nothing played, that is read amiss, and well again at the next.
    fn misread_rest(&mut self, misread: Misread, first: bool) {
        self.world.wait(2.0, 20.0);
        self.world.misread = Some(misread);
        self.rest();
        // A ball that went with the cue ball against it, or out of the jaws, can have been shot.
        if misread == Misread::Lacks
            && let Some(at) = self.world.lacked
        {
            self.against(at);
        }
        if misread == Misread::LacksCue && !first && self.chance(0.3) {
            self.world.wait(2.0, 8.0);
            self.world.scatter(1);
            self.doubt();
            self.world.misread = Some(misread);
            self.rest();
        }
        if misread == Misread::Lacks && !first && self.chance(0.2) {
            // The next shot is played before it is read again.
            self.doubt();
            return;
        }
        self.world.wait(2.0, 20.0);
        self.rest();
    }

    /// The rest behind a shot that pocketed something is read amiss.
    pub(super) fn misread_shot(&mut self) {
        let kinds = [Misread::Lacks, Misread::LacksCue, Misread::CueAsObject, Misread::CueSwapped];
        let misread = self.world.random.pick(kinds);
        self.doubt();
        self.world.misread = Some(misread);
    }
}
