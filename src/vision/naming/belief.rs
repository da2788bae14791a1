//! What each ball is when every ball of the set can lie on the table only once.
//!
//! Input: each found ball's own odds over 17 classes (cue ball, 1 to 15, no ball). Output: the
//! same after the rule, that is its marginal over all ways to give out the numbers, each way
//! weighed by the product of its odds. Method: forward–backward over the set of numbers given out
//! so far (one bit a number), one ball after another; the sum over permutations exactly, save that
//! odds below `LEAST`, sets that are `UNLIKELY` and all but the `WIDEST` heaviest are dropped.
//! Degenerates to the odds themselves for a single ball; a ball whose every number is taken becomes no ball.

/// Probabilities of cue ball, numbers 1 to 15 and no ball.
pub(super) type Odds = [f64; 17];

/// The class of what is no ball.
pub(super) const NO_BALL: usize = 16;
/// The odds of what is no ball for sure.
pub(super) const NOTHING: Odds = {
    let mut odds = [0.0; 17];
    odds[NO_BALL] = 1.0;
    odds
};
/// Odds below this count as none; no ball always counts at least this much.
const LEAST: f64 = 1e-5;
/// Sets of given-out numbers that are followed at once.
const WIDEST: usize = 1024;

/// A set so much less likely than the likeliest is not followed.
const UNLIKELY: f64 = 1e-9;

/// Sets of numbers given out, as bits in ascending order, with their weights.
type Layer = Vec<(u16, f64)>;

/// A weight for every set of numbers: one look instead of a search. All zero between uses.
struct Weights(Vec<f64>);

impl Weights {
    fn none() -> Self {
        Self(vec![0.0; 1 << NO_BALL])
    }

    fn of(&self, set: u16) -> f64 {
        self.0.get(usize::from(set)).copied().unwrap_or(0.0)
    }

    /// Adds to a set's weight; what it was before.
    fn add(&mut self, set: u16, weight: f64) -> f64 {
        let Some(kept) = self.0.get_mut(usize::from(set)) else { return 0.0 };
        let before = *kept;
        *kept += weight;
        before
    }

    /// Takes a set's weight away.
    fn take(&mut self, set: u16) -> f64 {
        self.0.get_mut(usize::from(set)).map_or(0.0, std::mem::take)
    }
}

/// Marginals under the rule, one for each ball.
pub(super) fn each_ball_once(odds: &[Odds]) -> Vec<Odds> {
    let odds: Vec<Odds> = odds.iter().map(without_small).collect();
    let mut weights = Weights::none();
    let mut forward: Vec<Layer> = vec![vec![(0, 1.0)]];
    for own in &odds {
        let before = forward.last().map_or(&[][..], Vec::as_slice);
        let after = next_layer(before, own, &mut weights);
        forward.push(after);
    }
    let mut beliefs = vec![[0.0; 17]; odds.len()];
    let mut later: Layer =
        forward.last().map_or(Vec::new(), |last| last.iter().map(|&(set, _)| (set, 1.0)).collect());
    for ((own, before), belief) in odds.iter().zip(&forward).zip(&mut beliefs).rev() {
        let mut here = Layer::with_capacity(before.len());
        for &(set, weight) in &later {
            weights.add(set, weight);
        }
        for &(set, weight) in before {
            let mut to_come = 0.0;
            for (class, after) in ways_on(set, own) {
                let through = own[class] * weights.of(after);
                belief[class] += weight * through;
                to_come += through;
            }
            here.push((set, to_come));
        }
        for &(set, _) in &later {
            weights.take(set);
        }
        scale(&mut here);
        normalise(belief);
        later = here;
    }
    beliefs
}

/// The classes a ball can still take and the set of numbers given out after that.
fn ways_on(set: u16, own: &Odds) -> impl Iterator<Item = (usize, u16)> {
    (0..own.len()).filter_map(move |class| {
        if own[class] <= 0.0 {
            None
        } else if class == NO_BALL {
            Some((class, set))
        } else {
            let bit = 1 << class;
            (set & bit == 0).then_some((class, set | bit))
        }
    })
}

fn next_layer(before: &[(u16, f64)], own: &Odds, weights: &mut Weights) -> Layer {
    let mut sets = Vec::new();
    for &(set, weight) in before {
        for (class, then) in ways_on(set, own) {
            // Every way's weight is above zero: a set is new where it had none.
            if weights.add(then, (weight * own[class]).max(f64::MIN_POSITIVE)) == 0.0 {
                sets.push(then);
            }
        }
    }
    let mut after: Layer = sets.into_iter().map(|set| (set, weights.take(set))).collect();
    if after.len() > WIDEST {
        after.select_nth_unstable_by(WIDEST, |a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        after.truncate(WIDEST);
    }
    scale(&mut after);
    after.retain(|&(_, weight)| weight >= UNLIKELY);
    after.sort_unstable_by_key(|&(set, _)| set);
    after
}

/// Scales the largest weight to one, so that products over many balls stay in range.
fn scale(layer: &mut Layer) {
    let largest = layer.iter().map(|&(_, weight)| weight).fold(0.0, f64::max);
    if largest > 0.0 {
        layer.iter_mut().for_each(|(_, weight)| *weight /= largest);
    }
}

fn without_small(own: &Odds) -> Odds {
    let mut kept = own.map(|p| if p >= LEAST { p } else { 0.0 });
    kept[NO_BALL] = kept[NO_BALL].max(LEAST);
    normalise(&mut kept);
    kept
}

fn normalise(own: &mut Odds) {
    let sum: f64 = own.iter().sum();
    if sum > 0.0 {
        own.iter_mut().for_each(|p| *p /= sum);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn odds(pairs: &[(usize, f64)]) -> Odds {
        let mut own = [0.0; 17];
        for &(class, p) in pairs {
            own[class] = p;
        }
        own
    }

    #[test]
    fn a_ball_alone_keeps_its_odds() {
        let own = odds(&[(3, 0.7), (11, 0.2), (NO_BALL, 0.1)]);
        let belief = each_ball_once(&[own])[0];
        for class in 0..17 {
            assert!((belief[class] - own[class]).abs() < 1e-9, "class {class}");
        }
    }

    /// Sums over every way by hand.
    fn by_force(
        all: &[Odds],
        at: usize,
        set: u32,
        weight: f64,
        way: &mut Vec<usize>,
        sums: &mut [Odds],
    ) {
        if at == all.len() {
            for (sum, &class) in sums.iter_mut().zip(way.iter()) {
                sum[class] += weight;
            }
            return;
        }
        for class in 0..17 {
            let taken = class != NO_BALL && set & (1 << class) != 0;
            if all[at][class] > 0.0 && !taken {
                let then = if class == NO_BALL { set } else { set | 1 << class };
                way.push(class);
                by_force(all, at + 1, then, weight * all[at][class], way, sums);
                way.pop();
            }
        }
    }

    #[test]
    fn it_is_the_sum_over_all_ways() {
        let all = [
            odds(&[(3, 0.6), (11, 0.3), (NO_BALL, 0.1)]),
            odds(&[(3, 0.5), (11, 0.25), (7, 0.2), (NO_BALL, 0.05)]),
            odds(&[(7, 0.9), (15, 0.05), (NO_BALL, 0.05)]),
            odds(&[(0, 0.9), (9, 0.09), (NO_BALL, 0.01)]),
        ];
        let mut sums = vec![[0.0; 17]; 4];
        by_force(&all, 0, 0, 1.0, &mut Vec::new(), &mut sums);
        sums.iter_mut().for_each(normalise);
        for (belief, sum) in each_ball_once(&all).iter().zip(&sums) {
            for class in 0..17 {
                assert!((belief[class] - sum[class]).abs() < 1e-9, "{belief:?} {sum:?}");
            }
        }
    }

    #[test]
    fn a_full_table_of_doubtful_balls_stays_within_bounds() {
        let all: Vec<Odds> = (0..20)
            .map(|ball| std::array::from_fn(|class| if class == ball % 16 { 0.2 } else { 0.05 }))
            .collect();
        for belief in each_ball_once(&all) {
            let sum: f64 = belief.iter().sum();
            assert!((sum - 1.0).abs() < 1e-9 && belief.iter().all(|p| (0.0..=1.0).contains(p)));
        }
    }

    #[test]
    fn nothing_gives_nothing() {
        assert!(each_ball_once(&[]).is_empty());
        // Odds that are no odds at all: no ball.
        assert!((each_ball_once(&[[0.0; 17]])[0][NO_BALL] - 1.0).abs() < 1e-12);
    }
}
