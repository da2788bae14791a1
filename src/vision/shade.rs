//! Whether what is darker than the cloth is the cloth itself, in a shadow.
//!
//! Input: a cell's logarithmic colour as it differs from the cloth's, and the cloth's. Output: yes or no.
//! Method: a shadow takes the same part of the light from all colours, and what veils the picture (haze,
//! blur, a raised black) adds the same to all, in the shadow as beside it. So of red cloth a shadow takes
//! most of its red and hardly anything of its green, which is veil already, and has another hue than the
//! cloth. Not modelled: lamps of several colours.

/// A shadow makes nothing lighter than this, in whatever colour.
pub(super) const NO_LIGHTER: f32 = 0.03;
/// A shadow leaves at least this part of the light: with less, whatever is black would be one.
const LEAST_LEFT: f32 = 0.22;
/// In no colour is a shadow farther from what is left of the cloth's light and the veil (logarithmic).
const LIKE_SHADE: f32 = 0.18;

/// Whether a cell is lighter than the cloth in no colour.
pub(super) fn is_darker(difference: [f32; 3]) -> bool {
    difference.iter().all(|difference| *difference < NO_LIGHTER)
}

/// Whether cloth of a logarithmic colour looks so in a shadow.
pub(super) fn is_shaded(difference: [f32; 3], cloth: [f32; 3]) -> bool {
    if !is_darker(difference) {
        return false;
    }
    let bare = cloth.map(f32::exp);
    let seen = [0, 1, 2].map(|c| (cloth[c] + difference[c]).exp());
    let mean = |colour: [f32; 3]| colour.iter().sum::<f32>() / 3.0;
    let (bare_mean, seen_mean) = (mean(bare), mean(seen));
    let spread = mean(bare.map(|value| (value - bare_mean).powi(2)));
    let shared = mean([0, 1, 2].map(|c| (bare[c] - bare_mean) * (seen[c] - seen_mean)));
    // Of grey cloth the one can't be told from the other, nor has it another hue in a shadow.
    let left = shared / spread;
    if !(LEAST_LEFT..=1.0).contains(&left) {
        return false;
    }
    let darkest = bare.into_iter().fold(f32::INFINITY, f32::min);
    let veil = (seen_mean - left * bare_mean).clamp(0.0, (1.0 - left) * darkest);
    bare.iter().zip(seen).all(|(bare, seen)| (seen / (left * bare + veil)).ln().abs() < LIKE_SHADE)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whether cloth of one colour in bytes may look like another in a shadow.
    fn shades(cloth: [u8; 3], seen: [u8; 3]) -> bool {
        let log = |colour: [u8; 3]| colour.map(|value| (f32::from(value) + 8.0).ln());
        let (cloth, seen) = (log(cloth), log(seen));
        is_shaded([0, 1, 2].map(|c| seen[c] - cloth[c]), cloth)
    }

    #[test]
    fn red_cloth_loses_its_red_alone_in_a_shadow() {
        let cloth = [118, 30, 36];
        for shadow in [[50, 23, 24], [54, 26, 27], [64, 23, 28], [90, 28, 32]] {
            assert!(shades(cloth, shadow), "{shadow:?}");
        }
        let things = [
            ("a black sleeve", [24, 20, 22]),
            ("brown leather", [50, 28, 15]),
            ("a blue sleeve", [30, 28, 50]),
            ("a grey one", [60, 55, 58]),
            ("lighter cloth", [150, 36, 44]),
        ];
        for (what, thing) in things {
            assert!(!shades(cloth, thing), "{what}");
        }
    }

    #[test]
    fn what_takes_the_lesser_colours_of_the_cloth_is_no_shadow() {
        let green = [25, 110, 60];
        assert!(shades(green, [20, 62, 36]));
        assert!(!shades(green, [8, 100, 50]));
        assert!(!shades(green, [10, 40, 55]));
        assert!(!shades([70, 70, 70], [40, 30, 20]), "grey cloth has one hue in any shadow");
    }
}
