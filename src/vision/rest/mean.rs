//! The mean of a still picture's frames, which has less noise than any of them.
//!
//! Input: frames of one size that show the same. Output: two means of half of them each, so that what
//! is seen in both is not one frame's noise. Knows nothing of tables.

use image::RgbImage;

/// A half begins anew after so many frames: light drifts, and no sum may overflow.
const MOST_FRAMES: u16 = 32;

/// The frames of one still picture, dealt out to two halves in turn.
#[derive(Default)]
pub(super) struct Halves {
    halves: [Sum; 2],
    next: usize,
}

impl Halves {
    /// Adds a frame of the size of those before.
    pub fn add(&mut self, frame: &RgbImage) {
        self.halves[self.next].add(frame);
        self.next = 1 - self.next;
    }

    /// The mean of one half, or of both; none while it has no frame.
    pub fn mean(&self, part: Part) -> Option<RgbImage> {
        match part {
            Part::Half(half) => self.halves[half].mean(),
            Part::Both => self.halves[0].with(&self.halves[1]).mean(),
        }
    }
}

/// What of the frames a mean is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Part {
    /// 0 or 1.
    Half(usize),
    Both,
}

#[derive(Default)]
struct Sum {
    size: (u32, u32),
    samples: Vec<u16>,
    frames: u16,
}

impl Sum {
    fn add(&mut self, frame: &RgbImage) {
        let samples = frame.as_raw();
        if self.frames == 0 || self.frames == MOST_FRAMES {
            self.size = frame.dimensions();
            self.frames = 0;
            self.samples.clear();
            self.samples.resize(samples.len(), 0);
        }
        for (sum, sample) in self.samples.iter_mut().zip(samples) {
            *sum += u16::from(*sample);
        }
        self.frames += 1;
    }

    /// This and another of frames of the same size.
    fn with(&self, other: &Self) -> Self {
        let samples = if other.frames == 0 {
            self.samples.clone()
        } else {
            self.samples.iter().zip(&other.samples).map(|(a, b)| a + b).collect()
        };
        Self { size: self.size, samples, frames: self.frames + other.frames }
    }

    fn mean(&self) -> Option<RgbImage> {
        let frames = u32::from(self.frames);
        // Division by a number known only now is slow, and there are millions.
        let share = (1_u32 << 20).checked_div(frames)? + 1;
        let mean = |sum: &u16| (((u32::from(*sum) + frames / 2) * share) >> 20).min(255) as u8;
        let samples = self.samples.iter().map(mean).collect();
        RgbImage::from_raw(self.size.0, self.size.1, samples)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    #[test]
    fn each_half_is_the_mean_of_every_other_frame() {
        let frame = |value: u8| RgbImage::from_pixel(5, 3, Rgb([value, 255, 0]));
        let mut halves = Halves::default();
        assert!(halves.mean(Part::Half(0)).is_none() && halves.mean(Part::Both).is_none());
        for value in [10, 200, 13, 201, 14] {
            halves.add(&frame(value));
        }
        assert_eq!(halves.mean(Part::Half(0)), Some(frame(12)));
        assert_eq!(halves.mean(Part::Half(1)), Some(frame(201)), "rounded");
        assert_eq!(halves.mean(Part::Both), Some(frame(88)), "all of them");
    }

    #[test]
    fn a_mean_is_rounded_rightly_whatever_the_sum_and_begins_anew_before_it_overflows() {
        for frames in 1..=MOST_FRAMES {
            for sum in 0..=255 * frames {
                let held = Sum { size: (1, 1), samples: vec![sum; 3], frames };
                let rounded = (f64::from(sum) / f64::from(frames)).round();
                let mean = held.mean().map(|mean| f64::from(mean.get_pixel(0, 0)[0]));
                assert_eq!(mean, Some(rounded), "{sum} of {frames}");
            }
        }
        let mut sum = Sum::default();
        for _ in 0..MOST_FRAMES {
            sum.add(&RgbImage::from_pixel(2, 2, Rgb([255; 3])));
        }
        let next = RgbImage::from_pixel(2, 2, Rgb([7; 3]));
        sum.add(&next);
        assert_eq!(sum.mean(), Some(next));
    }
}
