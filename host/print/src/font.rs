//! The two weights of the font that lies in `font/`: what letters it has, how wide a text is, and its outlines.

use crate::bitmap::{Bitmap, Contours};
use skrifa::instance::{LocationRef, Size};
use skrifa::outline::{DrawSettings, Engine, HintingInstance, HintingOptions, OutlinePen, Target};
use skrifa::{FontRef, GlyphId, MetadataProvider};

/// Height of a capital letter as a part of the font's size (measured in the file: 1456 of 2048).
pub(crate) const CAPITAL: f64 = 0.7109;
/// Height of a small letter without strokes up or down (1082 of 2048).
const SMALL_LETTER: f64 = 0.5283;
/// How far the baseline lies below the top of a line, and how far a line reaches, as parts of the font's size.
pub(crate) const ABOVE: f64 = 0.93;
pub(crate) const LINE: f64 = 1.18;

/// Height of the lowest letter of words as a part of the font's size: where a height is asked for, every letter must reach it, and
/// without small letters capitals and digits tell it.
pub(crate) fn lowest_letter(words: &str) -> f64 {
    if words.chars().any(char::is_lowercase) { SMALL_LETTER } else { CAPITAL }
}

/// How heavy letters are.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Weight {
    /// As the rest.
    #[default]
    Regular,
    /// Bold.
    Bold,
}

/// One weight of the font.
pub(crate) struct Face {
    font: FontRef<'static>,
}

/// A letter on its line.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Placed {
    /// Its glyph.
    pub(crate) glyph: GlyphId,
    /// Where its bytes begin in the text.
    pub(crate) from: usize,
    /// Where they end.
    pub(crate) to: usize,
    /// How far it moves the next, as a part of the font's size.
    pub(crate) advance: f64,
}

impl Weight {
    /// Returns the bytes of its file.
    pub(crate) const fn bytes(self) -> &'static [u8] {
        match self {
            Weight::Regular => include_bytes!("../font/regular.ttf"),
            Weight::Bold => include_bytes!("../font/bold.ttf"),
        }
    }

    /// Opens it; `None` if the file that is compiled in is no font, which a test excludes.
    pub(crate) fn face(self) -> Option<Face> {
        FontRef::new(self.bytes()).ok().map(|font| Face { font })
    }
}

impl Face {
    /// Lays out the letters of a line; one that the font has not is left out (see [`Self::missing`]).
    pub(crate) fn placed(&self, text: &str) -> Vec<Placed> {
        let charmap = self.font.charmap();
        let metrics = self.font.glyph_metrics(Size::unscaled(), LocationRef::default());
        let units = f64::from(self.font.metrics(Size::unscaled(), LocationRef::default()).units_per_em);
        let letter = |(from, letter): (usize, char)| {
            let glyph = charmap.map(letter)?;
            let advance = f64::from(metrics.advance_width(glyph)?) / units;
            Some(Placed { glyph, from, to: from + letter.len_utf8(), advance })
        };
        text.char_indices().filter_map(letter).collect()
    }

    /// Returns how wide a line is, as a multiple of the font's size.
    pub(crate) fn width(&self, text: &str) -> f64 {
        self.placed(text).iter().map(|letter| letter.advance).sum()
    }

    /// Returns the letters of a text that the font has not, each once.
    pub(crate) fn missing(&self, text: &str) -> Vec<char> {
        let charmap = self.font.charmap();
        let mut missing: Vec<char> = text
            .chars()
            .filter(|letter| charmap.map(*letter).is_none_or(|glyph| glyph.to_u32() == 0))
            .collect();
        missing.sort_unstable();
        missing.dedup();
        missing
    }

    /// Returns a text in which each letter that the font has not is spelt out as `\u65e5`, so that nothing is missing unseen.
    pub(crate) fn spelt(&self, text: &str) -> String {
        let missing = self.missing(text);
        text.chars().fold(String::with_capacity(text.len()), |mut out, letter| {
            match missing.contains(&letter) {
                true => out.push_str(&format!("\\u{:04x}", u32::from(letter))),
                false => out.push(letter),
            }
            out
        })
    }

    /// Draws a line in dots, its letters fitted to the dots, from `x` on at a baseline.
    pub(crate) fn draw(&self, text: &str, size: u32, [x, baseline]: [u32; 2], onto: &mut Bitmap) {
        let outlines = self.font.outline_glyphs();
        let size_of = Size::new(size as f32);
        let options = HintingOptions { engine: Engine::Auto(None), target: Target::Mono };
        let hints = HintingInstance::new(&outlines, size_of, LocationRef::default(), options).ok();
        let mut at = f64::from(x);
        for letter in self.placed(text) {
            if let Some(outline) = outlines.get(letter.glyph) {
                let settings = match &hints {
                    Some(hints) => DrawSettings::hinted(hints, false),
                    None => DrawSettings::unhinted(size_of, LocationRef::default()),
                };
                let mut pen = Pen(Contours::at(at.round() as f32, baseline as f32));
                if outline.draw(settings, &mut pen).is_ok() {
                    onto.fill(&pen.0);
                }
            }
            at += letter.advance * f64::from(size);
        }
    }
}

/// Takes an outline, whose heights count upwards.
struct Pen(Contours);

impl OutlinePen for Pen {
    fn move_to(&mut self, x: f32, y: f32) {
        self.0.begin([x, -y]);
    }

    fn line_to(&mut self, x: f32, y: f32) {
        self.0.line([x, -y]);
    }

    fn quad_to(&mut self, cx: f32, cy: f32, x: f32, y: f32) {
        self.0.curve([cx, -cy], [x, -y]);
    }

    fn curve_to(&mut self, ax: f32, ay: f32, bx: f32, by: f32, x: f32, y: f32) {
        // The font has none of these; halfway between the control points is near enough.
        self.0.curve([0.5 * (ax + bx), -0.5 * (ay + by)], [x, -y]);
    }

    fn close(&mut self) {
        self.0.close();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_weights_are_fonts_with_the_heights_that_are_said() {
        for weight in [Weight::Regular, Weight::Bold] {
            let face = weight.face().unwrap();
            let metrics = face.font.metrics(Size::new(1.0), LocationRef::default());
            assert!((f64::from(metrics.cap_height.unwrap()) - CAPITAL).abs() < 1e-3, "{weight:?}");
            assert!((f64::from(metrics.x_height.unwrap()) - SMALL_LETTER).abs() < 2e-3, "{weight:?}");
            assert!(
                f64::from(metrics.ascent) < ABOVE + 0.01
                    && f64::from(metrics.ascent - metrics.descent) < LINE
            );
        }
    }

    #[test]
    fn letters_of_the_languages_of_the_packs_are_there_and_others_are_named() {
        let face = Weight::Regular.face().unwrap();
        assert_eq!(
            face.missing("Zelle ≤ 2 K, 25 °C ± 0,1 · ÄÖÜß éèçñ łśż čšž Ωμ – “x” жя → セル"),
            ['→', 'セ', 'ル']
        );
        assert!(face.width("iii") < face.width("mmm"));
    }
}
