//! Dots in one colour: rectangles, and outlines filled where they cover at least half of a dot.

/// Scan lines in the height of a dot.
const SCANS: usize = 4;
/// Straight pieces that a curve is drawn with.
const PIECES: u32 = 8;

/// A picture in one colour.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Bitmap {
    pub(crate) width: usize,
    pub(crate) height: usize,
    dark: Vec<bool>,
}

/// Closed outlines made of straight pieces, in dots.
#[derive(Clone, Debug, Default)]
pub(crate) struct Contours {
    origin: [f32; 2],
    begun: [f32; 2],
    at: [f32; 2],
    pieces: Vec<[[f32; 2]; 2]>,
}

impl Contours {
    /// Begins with an origin to which all places are added.
    pub(crate) fn at(x: f32, y: f32) -> Self {
        Self { origin: [x, y], ..Self::default() }
    }

    fn moved(&self, [x, y]: [f32; 2]) -> [f32; 2] {
        [x + self.origin[0], y + self.origin[1]]
    }

    pub(crate) fn begin(&mut self, at: [f32; 2]) {
        self.close();
        self.at = self.moved(at);
        self.begun = self.at;
    }

    pub(crate) fn line(&mut self, to: [f32; 2]) {
        let to = self.moved(to);
        self.pieces.push([self.at, to]);
        self.at = to;
    }

    /// Draws a curve with one control point.
    pub(crate) fn curve(&mut self, control: [f32; 2], to: [f32; 2]) {
        let ([fx, fy], [cx, cy], [tx, ty]) = (self.at, self.moved(control), self.moved(to));
        for piece in 1..=PIECES {
            let t = piece as f32 / PIECES as f32;
            let (a, b, c) = ((1.0 - t) * (1.0 - t), 2.0 * t * (1.0 - t), t * t);
            let next = [a * fx + b * cx + c * tx, a * fy + b * cy + c * ty];
            self.pieces.push([self.at, next]);
            self.at = next;
        }
    }

    pub(crate) fn close(&mut self) {
        if self.at != self.begun {
            self.pieces.push([self.at, self.begun]);
            self.at = self.begun;
        }
    }

    /// Returns where the outlines cross a height, from left to right, each with the way it goes.
    fn crossings(&self, y: f32) -> Vec<(f32, i32)> {
        let crossing = |[[ax, ay], [bx, by]]: &[[f32; 2]; 2]| {
            let way = if ay <= &y && by > &y {
                1
            } else if by <= &y && ay > &y {
                -1
            } else {
                return None;
            };
            Some((ax + (y - ay) / (by - ay) * (bx - ax), way))
        };
        let mut found: Vec<(f32, i32)> = self.pieces.iter().filter_map(crossing).collect();
        found.sort_by(|one, other| one.0.total_cmp(&other.0));
        found
    }
}

impl Bitmap {
    /// Makes a white one.
    pub(crate) fn new([width, height]: [u32; 2]) -> Self {
        let [width, height] = [width as usize, height as usize];
        Self { width, height, dark: vec![false; width * height] }
    }

    /// Returns the rows from the top.
    pub(crate) fn rows(&self) -> impl Iterator<Item = &[bool]> {
        self.dark.chunks(self.width.max(1))
    }

    /// Makes a rectangle dark.
    pub(crate) fn rectangle(&mut self, [x, y, width, height]: [u32; 4]) {
        for row in y..y + height {
            for column in x..x + width {
                self.set(column as usize, row as usize);
            }
        }
    }

    fn set(&mut self, column: usize, row: usize) {
        if column < self.width
            && let Some(dot) = self.dark.get_mut(row * self.width + column)
        {
            *dot = true;
        }
    }

    /// Fills outlines; where they overlap it is filled too.
    pub(crate) fn fill(&mut self, outlines: &Contours) {
        let heights = outlines.pieces.iter().flat_map(|[[_, a], [_, b]]| [*a, *b]);
        let (top, bottom) = heights.fold((f32::MAX, f32::MIN), |(low, high), y| (low.min(y), high.max(y)));
        for row in top.max(0.0).floor() as usize..(bottom.max(0.0).ceil() as usize).min(self.height) {
            let mut covered = vec![0.0f32; self.width];
            for scan in 0..SCANS {
                let y = row as f32 + (scan as f32 + 0.5) / SCANS as f32;
                let (mut inside, mut from) = (0, 0.0);
                for (x, way) in outlines.crossings(y) {
                    if inside == 0 {
                        from = x;
                    }
                    inside += way;
                    if inside == 0 {
                        cover(&mut covered, from, x);
                    }
                }
            }
            for (column, share) in covered.into_iter().enumerate() {
                if share >= 0.5 {
                    self.set(column, row);
                }
            }
        }
    }
}

/// Adds the share of each dot that lies on a stretch of a scan line.
fn cover(covered: &mut [f32], from: f32, to: f32) {
    let (first, last) = (from.max(0.0).floor() as usize, to.max(0.0).ceil() as usize);
    for (column, share) in covered.iter_mut().enumerate().take(last).skip(first) {
        let left = column as f32;
        *share += ((to.min(left + 1.0) - from.max(left)).max(0.0)) / SCANS as f32;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(bitmap: &Bitmap) -> Vec<String> {
        bitmap.rows().map(|row| row.iter().map(|dark| if *dark { '#' } else { '.' }).collect()).collect()
    }

    #[test]
    fn outlines_are_filled_with_their_holes_left_free_and_nothing_outside() {
        let mut ring = Contours::at(1.0, 1.0);
        for (corners, backwards) in [([0.0, 0.0, 4.0, 4.0], false), ([1.0, 1.0, 3.0, 3.0], true)] {
            let [a, b, c, d] = corners;
            let mut way = [[a, b], [c, b], [c, d], [a, d]];
            if backwards {
                way.reverse();
            }
            ring.begin(way[0]);
            way.iter().skip(1).for_each(|corner| ring.line(*corner));
            ring.close();
        }
        let mut bitmap = Bitmap::new([6, 6]);
        bitmap.fill(&ring);
        assert_eq!(drawn(&bitmap), ["......", ".####.", ".#..#.", ".#..#.", ".####.", "......"]);
        let mut small = Bitmap::new([3, 3]);
        small.fill(&ring);
        small.rectangle([2, 0, 5, 1]);
        assert_eq!(drawn(&small), ["..#", ".##", ".#."]);
    }

    #[test]
    fn half_a_dot_is_dark_and_less_is_not() {
        let mut bar = Contours::at(0.0, 0.0);
        bar.begin([0.0, 0.0]);
        [[2.5, 0.0], [2.5, 1.25], [0.0, 1.25]].iter().for_each(|to| bar.line(*to));
        bar.close();
        let mut bitmap = Bitmap::new([4, 2]);
        bitmap.fill(&bar);
        assert_eq!(drawn(&bitmap), ["###.", "...."]);
    }
}
