//! Colours as light: linear red, green and blue, and the way to and from 8-bit sRGB
//! (IEC 61966-2-1). Knows nothing of what is coloured.

use super::random::Random;
use nalgebra::Vector3;

/// Linear red, green, blue; 1 is a perfect white reflector, or the brightest the film holds.
pub type Colour = Vector3<f64>;

/// From an sRGB value written 0xRRGGBB.
pub fn srgb(hex: u32) -> Colour {
    let channel = |shift: u32| decoded(f64::from((hex >> shift) & 0xff) / 255.0);
    Colour::new(channel(16), channel(8), channel(0))
}

/// The grey of a reflectance.
pub fn grey(reflectance: f64) -> Colour {
    Colour::repeat(reflectance)
}

/// From hue (in turns), saturation and value, all in 0..1, taken as sRGB.
pub fn from_hue(hue: f64, saturation: f64, value: f64) -> Colour {
    let sector = |n: f64| {
        let k = (n + hue * 6.0).rem_euclid(6.0);
        decoded(value - value * saturation * k.min(4.0 - k).clamp(0.0, 1.0))
    };
    Colour::new(sector(5.0), sector(3.0), sector(1.0))
}

/// The colour with its channels and brightness varied by about `amount` (0.1 is a tenth).
pub fn varied(random: &mut Random, colour: Colour, amount: f64) -> Colour {
    let brightness = (amount * random.normal()).exp();
    colour.map(|c| (c * brightness * (0.5 * amount * random.normal()).exp()).clamp(0.002, 0.95))
}

/// A blend: `part` 0 gives the first, 1 the second.
pub fn blend(first: Colour, second: Colour, part: f64) -> Colour {
    first + (second - first) * part.clamp(0.0, 1.0)
}

/// Brightness as the eye weighs it (Rec. 709).
pub fn luminance(colour: Colour) -> f64 {
    0.2126 * colour.x + 0.7152 * colour.y + 0.0722 * colour.z
}

/// The colour of a black body's light, normalised to luminance 1; 2500 to 9000 K.
///
/// Piecewise-linear through chromaticities of the Planckian locus, enough for lamps and daylight.
pub fn lamp_colour(kelvin: f64) -> Colour {
    const LOCUS: [(f64, [f64; 3]); 6] = [
        (2500.0, [1.94, 0.80, 0.20]),
        (3200.0, [1.62, 0.87, 0.42]),
        (4000.0, [1.37, 0.92, 0.66]),
        (5000.0, [1.17, 0.96, 0.88]),
        (6500.0, [1.00, 1.00, 1.00]),
        (9000.0, [0.83, 1.02, 1.22]),
    ];
    let mut colour = Colour::from(LOCUS[0].1);
    for pair in LOCUS.windows(2) {
        if let [(from_k, from), (to_k, to)] = pair
            && kelvin >= *from_k
        {
            let part = (kelvin - from_k) / (to_k - from_k);
            colour = blend(Colour::from(*from), Colour::from(*to), part);
        }
    }
    colour / luminance(colour)
}

/// sRGB value in 0..1 to light.
pub fn decoded(value: f64) -> f64 {
    if value <= 0.040_45 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
}

/// Light to sRGB value in 0..1.
pub fn encoded(light: f64) -> f64 {
    if light <= 0.003_130_8 { light * 12.92 } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn coding_goes_round() {
        for k in 0..=100 {
            let light = f64::from(k) / 100.0;
            assert!((decoded(encoded(light)) - light).abs() < 1e-6);
        }
    }

    #[test]
    fn hues_are_where_they_belong() {
        assert!((from_hue(0.0, 1.0, 1.0) - Colour::new(1.0, 0.0, 0.0)).norm() < 1e-9);
        assert!((from_hue(1.0 / 3.0, 1.0, 1.0) - Colour::new(0.0, 1.0, 0.0)).norm() < 1e-9);
        assert!((from_hue(2.0 / 3.0, 1.0, 1.0) - Colour::new(0.0, 0.0, 1.0)).norm() < 1e-9);
    }
}
