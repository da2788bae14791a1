//! Whether a camera goes on sending one and the same picture.
//!
//! Input: decoded frames and their monotonic times. Output: since when they have been the same. Two
//! degrees: bit for bit (told by a digest of all samples), and the same but for its encoding (a
//! raster of single samples differs by little in the mean and nowhere by much). A sensor's noise
//! tells two frames of a working camera apart, so the first is a matter of seconds. The second is
//! slower: a camera that smooths its noise away looks much the same while nothing moves. A single
//! ball that moves by its width changes samples by more than an encoding does; one that moves by
//! millimetres may fall between them, which is why this judges a camera's health and never keeps a
//! frame from being looked at sooner than that.

use super::Patience;
use crate::camera::source::Nature;
use image::RgbImage;
use std::{
    hash::{DefaultHasher, Hasher},
    time::Duration,
};

/// Samples in each direction.
const RASTER: (u32, u32) = (96, 54);

/// What an encoding changes at most, in the mean of all samples and in any one, of 255.
const ENCODING_MEAN: f64 = 0.75;
const ENCODING_MOST: u8 = 12;

/// A picture, as far as likeness goes.
struct Likeness {
    digest: u64,
    samples: Vec<u8>,
}

impl Likeness {
    fn of(frame: &RgbImage) -> Self {
        let mut hasher = DefaultHasher::new();
        hasher.write(frame.as_raw());
        let (width, height) = frame.dimensions();
        hasher.write_u32(width);
        let place = |i: u32, of: u32, length: u32| (2 * i + 1) * length / (2 * of);
        let samples = (0..RASTER.1)
            .flat_map(|y| (0..RASTER.0).map(move |x| (x, y)))
            .filter_map(|(x, y)| {
                frame.get_pixel_checked(place(x, RASTER.0, width), place(y, RASTER.1, height))
            })
            .map(|pixel| pixel.0[1])
            .collect();
        Self { digest: hasher.finish(), samples }
    }

    fn is_like(&self, other: &Self) -> bool {
        if self.samples.len() != other.samples.len() || self.samples.is_empty() {
            return false;
        }
        let pairs = || self.samples.iter().zip(&other.samples).map(|(a, b)| a.abs_diff(*b));
        let sum: u64 = pairs().map(u64::from).sum();
        pairs().all(|difference| difference <= ENCODING_MOST)
            && sum as f64 <= ENCODING_MEAN * self.samples.len() as f64
    }
}

/// Follows one camera's frames.
pub(super) struct Frozen {
    nature: Nature,
    /// A picture and since when it has come bit for bit.
    same: Option<(u64, Duration)>,
    /// A picture and since when its like has come.
    like: Option<(Likeness, Duration)>,
}

impl Frozen {
    pub(super) fn new(nature: Nature) -> Self {
        Self { nature, same: None, like: None }
    }

    /// Takes a frame in; tells for how long the same picture has come, where that is too long.
    pub(super) fn look(
        &mut self,
        frame: &RgbImage,
        at: Duration,
        patience: &Patience,
    ) -> Option<Duration> {
        // A film may stand still.
        if self.nature == Nature::Film {
            return None;
        }
        let now = Likeness::of(frame);
        let same_since = match self.same {
            Some((digest, since)) if digest == now.digest => since,
            _ => at,
        };
        self.same = Some((now.digest, same_since));
        let same_for = at.saturating_sub(same_since);
        let like_for = match &self.like {
            Some((first, since)) if first.is_like(&now) => at.saturating_sub(*since),
            _ => {
                self.like = Some((now, at));
                Duration::ZERO
            }
        };
        let bound = match self.nature {
            Nature::LiveStills => patience.frozen,
            Nature::LiveCoded | Nature::Film => patience.frozen_coded,
        };
        if same_for >= bound {
            Some(same_for)
        } else {
            // Differences that are too small to be encoded are all that such a stream leaves out.
            let stills = self.nature == Nature::LiveStills;
            Some(like_for).filter(|&like_for| stills && like_for >= patience.frozen_coded)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::{Rgb, codecs::jpeg::JpegEncoder};

    /// A picture with edges and slopes, and noise of so much from a seed.
    fn picture(noise: u32, seed: u32) -> RgbImage {
        let mut state = seed.wrapping_mul(2_654_435_761).wrapping_add(12345);
        RgbImage::from_fn(480, 270, |x, y| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let ball = (x as f64 % 60.0 - 30.0).hypot(y as f64 % 60.0 - 30.0) < 12.0;
            let base = if ball { 210 } else { 60 + x / 16 + y / 9 };
            let sample = base + (state >> 16) % (noise + 1);
            Rgb([sample as u8 / 2, sample as u8, sample as u8 / 3])
        })
    }

    fn encoded(picture: &RgbImage, quality: u8) -> RgbImage {
        let mut bytes = Vec::new();
        picture.write_with_encoder(JpegEncoder::new_with_quality(&mut bytes, quality)).unwrap();
        crate::camera::picture::decode(&bytes).unwrap()
    }

    /// The seconds until frames, ten a second, count as frozen.
    fn frozen_after(nature: Nature, frame: impl Fn(u32) -> RgbImage) -> Option<f64> {
        let patience = Patience::default();
        let mut frozen = Frozen::new(nature);
        (0..700).find_map(|tenth| {
            let at = Duration::from_millis(100 * u64::from(tenth));
            frozen.look(&frame(tenth), at, &patience).map(|_| at.as_secs_f64())
        })
    }

    #[test]
    fn one_picture_over_and_over_is_frozen() {
        let still = picture(4, 1);
        assert_eq!(frozen_after(Nature::LiveStills, |_| still.clone()), Some(10.0));
        assert_eq!(frozen_after(Nature::LiveCoded, |_| still.clone()), Some(60.0));
        assert_eq!(frozen_after(Nature::Film, |_| still.clone()), None);
    }

    #[test]
    fn one_picture_encoded_anew_each_time_is_frozen_in_the_end() {
        let still = picture(4, 1);
        let ways = [encoded(&still, 92), encoded(&still, 90), encoded(&still, 95)];
        let after = frozen_after(Nature::LiveStills, |tenth| ways[tenth as usize % 3].clone());
        assert_eq!(after, Some(60.0));
    }

    #[test]
    fn a_still_table_before_a_working_camera_is_not_frozen() {
        let frames: Vec<RgbImage> = (0..10).map(|seed| encoded(&picture(6, seed), 85)).collect();
        let after = frozen_after(Nature::LiveStills, |tenth| frames[tenth as usize % 10].clone());
        assert_eq!(after, None);
    }

    #[test]
    fn a_picture_that_changes_now_and_then_is_not_frozen() {
        let (one, other) = (picture(4, 1), picture(4, 2));
        let frame = |tenth: u32| if (tenth / 90) % 2 == 0 { one.clone() } else { other.clone() };
        assert_eq!(frozen_after(Nature::LiveStills, frame), None);
    }
}
