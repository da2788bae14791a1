//! A table by its six openings, where no surface of one colour shows it: rails may have the cloth's
//! colour, and the cloth many.
//!
//! Input: a reduced frame and a table size. Output: maps of the bed, likeliest first, good to some
//! centimetres. Method: dark, roundish spots by several bounds of brightness; four of them are corners
//! where two others lie in the middle of two facing sides, as the plane's map of the four has it. Most
//! pictures have some six such spots, so that each is only a proposal: what is a table is decided by
//! fitting one. Not modelled: a bend of the lens, which moves the middles by less than is allowed for.

use super::quad;
use super::region::{Reduced, label};
use super::start::PlaneMap;
use crate::camera::PixelPoint;
use crate::table::TableSize;

/// Bounds of brightness tried, evenly from the darkest to the middle one.
const BOUNDS: usize = 8;
/// A spot's area, in reduced pixels and as a part of the picture.
const LEAST_AREA: usize = 16;
const MOST_PART: f64 = 0.015;
/// A hole half hidden by a rail fills so much of the box around it, and is so much longer than wide.
const LEAST_FILLED: f64 = 0.45;
const MOST_LENGTHS: f64 = 2.6;
/// Spots whose middles are nearer than this, in reduced pixels, are one.
const SAME_SPOT_PX: f64 = 1.5;
/// A bound that shows more spots than these shows a texture; the darkest of all bounds are looked at.
const MOST_OF_A_BOUND: usize = 50;
const MOST_SPOTS: usize = 100;
/// A row of three: no shorter than this part of the picture, the middle one so far along it and no
/// farther beside it, and none so many times larger than another.
const LEAST_ROW: f64 = 0.3;
const MIDDLE: std::ops::RangeInclusive<f64> = 0.34..=0.66;
const BESIDE: f64 = 0.06;
const MOST_TIMES: f64 = 5.0;
/// A side across is so long, as a part of a row.
const ACROSS: std::ops::RangeInclusive<f64> = 0.28..=0.8;
/// Rows looked at, the straightest first.
const MOST_ROWS: usize = 300;
/// The two middles lie no farther from where the corners have them, as a part of a row.
const OFF_MIDDLE: f64 = 0.035;
/// Proposals made.
const MOST_MAPS: usize = 12;

/// A dark spot in reduced pixels.
#[derive(Debug, Clone, Copy)]
struct Spot {
    at: PixelPoint,
    area: f64,
}

/// Three spots in a row: the first, the middle one, the last.
type Row = [Spot; 3];

/// Maps of the bed by the openings that may be a table's, likeliest first.
pub(super) fn maps(reduced: &Reduced, table: &TableSize) -> Vec<PlaneMap> {
    let spots = spots(reduced);
    let rows = rows(&spots, LEAST_ROW * reduced.width.max(reduced.height) as f64);
    let mut maps: Vec<(f64, PlaneMap)> = Vec::new();
    for (index, near) in rows.iter().enumerate() {
        for far in &rows[index + 1..] {
            maps.extend(map_of((near, far), reduced.step, table));
        }
    }
    maps.sort_by(|a, b| a.0.total_cmp(&b.0));
    maps.into_iter().take(MOST_MAPS).map(|(_, map)| map).collect()
}

/// The dark spots of every bound, each once.
fn spots(reduced: &Reduced) -> Vec<Spot> {
    let light = reduced.light();
    let mut ordered = light.clone();
    ordered.sort_by(f32::total_cmp);
    let (Some(darkest), Some(middle)) =
        (ordered.get(ordered.len() / 200), ordered.get(ordered.len() / 2))
    else {
        return Vec::new();
    };
    let mut spots: Vec<Spot> = Vec::new();
    for step in 1..=BOUNDS {
        let bound = darkest + (middle - darkest) * step as f32 / (BOUNDS + 1) as f32;
        let dark: Vec<bool> = light.iter().map(|light| *light < bound).collect();
        let parts = round_parts(&dark, (reduced.width, reduced.height));
        if parts.len() > MOST_OF_A_BOUND {
            continue;
        }
        for spot in parts {
            if !spots.iter().any(|other| other.at.distance_px(spot.at) < SAME_SPOT_PX) {
                spots.push(spot);
            }
        }
    }
    spots.truncate(MOST_SPOTS);
    spots
}

/// The connected parts of a mask that are neither large nor long.
fn round_parts(mask: &[bool], (w, h): (usize, usize)) -> Vec<Spot> {
    let (labels, areas) = label(mask, (w, h));
    let most = (MOST_PART * (w * h) as f64) as usize;
    let mut boxes = vec![[usize::MAX, 0, usize::MAX, 0]; areas.len()];
    let mut sums = vec![[0.0_f64; 2]; areas.len()];
    for (at, label) in labels.iter().enumerate() {
        let (x, y, part) = (at % w, at / w, *label as usize);
        let [left, right, top, bottom] = &mut boxes[part];
        (*left, *right) = ((*left).min(x), (*right).max(x));
        (*top, *bottom) = ((*top).min(y), (*bottom).max(y));
        sums[part][0] += x as f64 + 0.5;
        sums[part][1] += y as f64 + 0.5;
    }
    let spot = |part: usize| {
        let area = areas[part];
        let [left, right, top, bottom] = boxes[part];
        let (wide, high) = ((right + 1 - left) as f64, (bottom + 1 - top) as f64);
        let round = area as f64 >= LEAST_FILLED * wide * high
            && wide.max(high) <= MOST_LENGTHS * wide.min(high);
        let [x, y] = sums[part].map(|sum| sum / area as f64);
        let spot = Spot { at: PixelPoint::new(x, y), area: area as f64 };
        (round && (LEAST_AREA..=most).contains(&area)).then_some(spot)
    };
    (1..areas.len()).filter_map(spot).collect()
}

/// The rows of three that may be a long side's openings.
fn rows(spots: &[Spot], least_px: f64) -> Vec<Row> {
    let mut rows: Vec<(f64, Row)> = Vec::new();
    for (index, first) in spots.iter().enumerate() {
        for last in &spots[index + 1..] {
            let length_px = first.at.distance_px(last.at);
            if length_px < least_px {
                continue;
            }
            let along = [last.at.x_px - first.at.x_px, last.at.y_px - first.at.y_px]
                .map(|part| part / length_px);
            rows.extend(spots.iter().filter_map(|middle| {
                let off = [middle.at.x_px - first.at.x_px, middle.at.y_px - first.at.y_px];
                let part = (off[0] * along[0] + off[1] * along[1]) / length_px;
                let beside = (off[0] * along[1] - off[1] * along[0]).abs() / length_px;
                let row = [*first, *middle, *last];
                let alike = times(row.iter()) < MOST_TIMES;
                (MIDDLE.contains(&part) && beside < BESIDE && alike).then_some((beside, row))
            }));
        }
    }
    rows.sort_by(|a, b| a.0.total_cmp(&b.0));
    rows.into_iter().take(MOST_ROWS).map(|(_, row)| row).collect()
}

/// How many times larger the largest of some spots is than the smallest.
fn times<'a>(spots: impl Iterator<Item = &'a Spot>) -> f64 {
    let (least, most) = spots.fold((f64::INFINITY, 0.0_f64), |(least, most), spot| {
        (least.min(spot.area), most.max(spot.area))
    });
    most / least
}

/// Where two lines meet, each through two places; none where they run alike.
fn meets([a, b]: [PixelPoint; 2], [c, d]: [PixelPoint; 2]) -> Option<PixelPoint> {
    let cross = |p: [f64; 2], q: [f64; 2]| p[0] * q[1] - p[1] * q[0];
    let way = |from: PixelPoint, to: PixelPoint| [to.x_px - from.x_px, to.y_px - from.y_px];
    let (first, second) = (way(a, b), way(c, d));
    let part = cross(way(a, c), second) / cross(first, second);
    part.is_finite().then(|| PixelPoint::new(a.x_px + part * first[0], a.y_px + part * first[1]))
}

/// The map of a bed whose long sides have these openings, in the frame's pixels, and how far the middles
/// are off; none where the two rows are not those of a table.
fn map_of((near, far): (&Row, &Row), step: f64, table: &TableSize) -> Option<(f64, PlaneMap)> {
    let [a, m, b] = near.map(|spot| spot.at);
    let [d, n, c] = far.map(|spot| spot.at);
    let same_way = (b.x_px - a.x_px) * (c.x_px - d.x_px) + (b.y_px - a.y_px) * (c.y_px - d.y_px);
    let (c, d) = if same_way > 0.0 { (c, d) } else { (d, c) };
    let length_px = 0.5 * (a.distance_px(b) + d.distance_px(c));
    let across = [a.distance_px(d), b.distance_px(c)].map(|px| px / length_px);
    let fits = across.iter().all(|part| ACROSS.contains(part))
        && times(near.iter().chain(far)) < MOST_TIMES
        // Both diagonals and the line between the middles run through the table's.
        && meets([a, c], [m, n]).zip(meets([b, d], [m, n])).is_some_and(|(one, other)| {
            one.distance_px(other) < 2.0 * OFF_MIDDLE * length_px
        });
    if !fits {
        return None;
    }
    // The long sides stay the first and the third, whichever way around the corners run.
    let corners = [a, b, c, d];
    let (corners, middles) = match quad::counter_clockwise(corners) == corners {
        true => (corners, [m, n]),
        false => ([d, c, b, a], [n, m]),
    };
    let scaled = |at: PixelPoint| [at.x_px * step, at.y_px * step];
    let pockets = table.pockets();
    let map = PlaneMap::new(table, &[0, 1, 2, 3].map(|i| (pockets[i].centre, scaled(corners[i]))))?;
    let mut off = 0.0_f64;
    for (pocket, middle) in pockets[4..].iter().zip(middles) {
        let [x, y] = map.place(pocket.centre)?;
        let [seen_x, seen_y] = scaled(middle);
        off = off.max((x - seen_x).hypot(y - seen_y) / (step * length_px));
    }
    (off < OFF_MIDDLE).then_some((off, map))
}

#[cfg(test)]
mod tests {
    use super::super::region::Grain;
    use super::*;
    use image::{Rgb, RgbImage};

    /// A picture in stripes with dark discs of 14 px about some places.
    fn spotted(places: &[[f64; 2]]) -> RgbImage {
        RgbImage::from_fn(960, 540, |x, y| {
            let near = |[u, v]: &[f64; 2]| (f64::from(x) - u).hypot(f64::from(y) - v) < 14.0;
            match places.iter().any(near) {
                true => Rgb([12, 12, 14]),
                false if (x / 60) % 2 == 0 => Rgb([90, 120, 80]),
                false => Rgb([130, 80, 90]),
            }
        })
    }

    /// Where a table's pockets are seen, somewhat aslant, and its map.
    fn table_seen(table: &TableSize) -> (PlaneMap, Vec<[f64; 2]>) {
        let corners = [[140.0, 430.0], [850.0, 410.0], [780.0, 90.0], [190.0, 100.0]];
        let pockets = table.pockets();
        let map = PlaneMap::new(table, &[0, 1, 2, 3].map(|i| (pockets[i].centre, corners[i])));
        let map = map.unwrap();
        let places = pockets.iter().filter_map(|pocket| map.place(pocket.centre)).collect();
        (map, places)
    }

    fn maps_of(places: &[[f64; 2]], table: &TableSize) -> Vec<PlaneMap> {
        maps(&Reduced::of(&spotted(places), Grain::Kept), table)
    }

    #[test]
    fn six_openings_among_other_dark_spots_tell_where_the_table_lies() {
        let table = TableSize::NINE_FOOT;
        let (truth, mut places) = table_seen(&table);
        places.extend([[60.0, 60.0], [480.0, 250.0], [880.0, 500.0], [300.0, 480.0]]);
        let found = maps_of(&places, &table);
        let off_px = |map: &PlaneMap, turned: bool| {
            table.corners().into_iter().fold(0.0_f64, |most, corner| {
                let of = if turned { corner.turned(&table) } else { corner };
                let ([x, y], [u, v]) = (map.place(of).unwrap(), truth.place(corner).unwrap());
                most.max((x - u).hypot(y - v))
            })
        };
        let best = found.first().expect("a table");
        let off_px = off_px(best, false).min(off_px(best, true));
        assert!(off_px < 3.0, "{off_px:.1} px off");
    }

    #[test]
    fn five_openings_are_no_table_nor_are_six_in_other_places() {
        let table = TableSize::NINE_FOOT;
        let (_, places) = table_seen(&table);
        assert!(maps_of(&places[1..], &table).is_empty());
        let mut moved = places;
        moved[4][0] += 140.0;
        assert!(maps_of(&moved, &table).is_empty());
        assert!(maps_of(&[], &table).is_empty());
    }
}
