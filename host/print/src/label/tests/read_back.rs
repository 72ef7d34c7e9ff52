//! Codes are read back from the dots by a decoder that shares nothing with what wrote them: turned, and damaged.

use super::*;
use crate::bitmap::Bitmap;
use crate::png_file::drawn;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rxing::{BarcodeFormat, DecodeHints, helpers};

/// Grey values of a picture, row by row.
struct Seen {
    width: usize,
    height: usize,
    luma: Vec<u8>,
}

impl Seen {
    /// What a camera sees of a label.
    fn of(bitmap: &Bitmap) -> Self {
        let luma = bitmap.rows().flatten().map(|dark| if *dark { 20 } else { 235 }).collect();
        Self { width: bitmap.width, height: bitmap.height, luma }
    }

    fn turned(&self) -> Self {
        let place = |index: usize| (self.height - 1 - index % self.height) * self.width + index / self.height;
        let luma = (0..self.luma.len()).map(|index| self.luma[place(index)]).collect();
        Self { width: self.height, height: self.width, luma }
    }

    /// Paints one stain over a tenth of the code's area, dark or bright, where the seed draws it: not over what a decoder finds the code
    /// by (the border of a Data Matrix, the three corner squares of a QR code), without which none can be found.
    fn stained(mut self, code: &PlacedCode, seed: u64) -> Self {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let (modules, module) = (code.code.side as f64, f64::from(code.module));
        let shade = if random.random() { 20 } else { 235 };
        let [left, top, width, height] = loop {
            let longer = random.random_range(0.5..2.0_f64).sqrt();
            let [width, height] = [modules * 0.1_f64.sqrt() * longer, modules * 0.1_f64.sqrt() / longer];
            let [left, top] = [width, height].map(|size| random.random_range(0.0..=modules - size));
            let (right, bottom) = (left + width, top + height);
            let hidden = match code.code.kind {
                CodeKind::DataMatrix => {
                    left < 1.0 || top < 1.0 || right > modules - 1.0 || bottom > modules - 1.0
                }
                CodeKind::Qr => {
                    top < 8.0 && (left < 8.0 || right > modules - 8.0) || left < 8.0 && bottom > modules - 8.0
                }
            };
            if !hidden {
                break [left, top, width, height].map(|side| (side * module).round() as usize);
            }
        };
        for y in top..top + height {
            for x in left..left + width {
                self.luma[(code.y as usize + y) * self.width + code.x as usize + x] = shade;
            }
        }
        self
    }

    fn read(&self, kind: CodeKind) -> Option<String> {
        let format = match kind {
            CodeKind::DataMatrix => BarcodeFormat::DATA_MATRIX,
            CodeKind::Qr => BarcodeFormat::QR_CODE,
        };
        let mut hints = DecodeHints { TryHarder: Some(true), ..DecodeHints::default() };
        let (width, height) = (self.width as u32, self.height as u32);
        let read =
            helpers::detect_in_luma_with_hints(self.luma.clone(), width, height, Some(format), &mut hints);
        read.ok().map(|read| read.getText().to_owned())
    }
}

const KINDS: [CodeKind; 2] = [CodeKind::DataMatrix, CodeKind::Qr];

fn labels() -> Vec<(Layout, CodeKind)> {
    let mut all = Vec::new();
    for fineness in [Fineness::Dpi203, Fineness::Dpi300] {
        for [width_mm, height_mm] in [[50.0, 30.0], [62.0, 100.0], [40.0, 40.0]] {
            for kind in KINDS {
                let layout = laid_out(&cell(), Paper { width_mm, height_mm, fineness }, kind).unwrap();
                all.push((layout, kind));
            }
        }
    }
    all
}

#[test]
fn every_code_is_read_back_turned_by_quarters() {
    for (layout, kind) in labels() {
        let mut seen = Seen::of(&drawn(&layout));
        for quarter in 0..4 {
            assert_eq!(
                seen.read(kind).as_deref(),
                Some("PE-0412+K"),
                "{quarter} {kind:?} {:?}",
                layout.paper
            );
            seen = seen.turned();
        }
    }
}

#[test]
fn every_code_is_read_back_with_a_tenth_of_it_stained() {
    let (mut read, mut all, mut wrong) = (0, 0, Vec::new());
    for (layout, kind) in labels() {
        let code = layout.code.as_ref().unwrap();
        for seed in 0..40 {
            let mut seen = Seen::of(&drawn(&layout)).stained(code, seed);
            for _ in 0..seed % 4 {
                seen = seen.turned();
            }
            all += 1;
            match seen.read(kind) {
                Some(text) if text == "PE-0412+K" => read += 1,
                other => wrong.push((seed, kind, layout.paper, other)),
            }
        }
    }
    assert_eq!(read, all, "{wrong:?}");
}

/// Where only the smallest code has room, it is still read, turned by quarters.
#[test]
fn the_smallest_labels_are_read_back_too() {
    let label = Label { lines: Vec::new(), ..cell() };
    use Fineness::{Dpi203, Dpi300};
    for (kind, [width_mm, height_mm], fineness, side) in [
        (CodeKind::DataMatrix, [30.0, 13.0], Dpi203, 14),
        (CodeKind::DataMatrix, [30.0, 13.0], Dpi300, 14),
        (CodeKind::Qr, [40.0, 15.0], Dpi203, 21),
        (CodeKind::Qr, [40.0, 16.0], Dpi300, 21),
    ] {
        let layout = laid_out(&label, Paper { width_mm, height_mm, fineness }, kind).unwrap();
        assert_eq!(layout.code.as_ref().unwrap().code.side, side, "{kind:?} {fineness:?}");
        let mut seen = Seen::of(&drawn(&layout));
        for quarter in 0..4 {
            assert_eq!(seen.read(kind).as_deref(), Some("PE-0412+K"), "{quarter} {kind:?} {fineness:?}");
            seen = seen.turned();
        }
    }
}
