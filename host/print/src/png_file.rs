//! A label as a picture of one bit a dot, with its size for whatever prints it.

use crate::bitmap::Bitmap;
use crate::label::Layout;
use png::{BitDepth, ColorType, Encoder, EncodingError, PixelDimensions, Unit};

/// Writes a label as PNG.
///
/// # Errors
/// It cannot be encoded.
pub fn png(layout: &Layout) -> Result<Vec<u8>, EncodingError> {
    let bitmap = drawn(layout);
    let mut bytes = Vec::new();
    let mut encoder = Encoder::new(&mut bytes, bitmap.width as u32, bitmap.height as u32);
    encoder.set_color(ColorType::Grayscale);
    encoder.set_depth(BitDepth::One);
    let in_metre = (layout.paper.fineness.dots_in_mm() * 1000.0).round() as u32;
    encoder.set_pixel_dims(Some(PixelDimensions { xppu: in_metre, yppu: in_metre, unit: Unit::Meter }));
    let mut writer = encoder.write_header()?;
    let mut packed = Vec::new();
    for row in bitmap.rows() {
        // White is one; what fills the last byte of a row is white too.
        let byte = |dots: &[bool]| {
            dots.iter()
                .enumerate()
                .fold(0xff_u8, |byte, (place, dark)| if *dark { byte & !(0x80 >> place) } else { byte })
        };
        packed.extend(row.chunks(8).map(byte));
    }
    writer.write_image_data(&packed)?;
    writer.finish()?;
    Ok(bytes)
}

/// Draws a label in dots.
pub(crate) fn drawn(layout: &Layout) -> Bitmap {
    let mut bitmap = Bitmap::new(layout.dots);
    if let Some(placed) = &layout.code {
        placed.rectangles().for_each(|rectangle| bitmap.rectangle(rectangle));
    }
    layout.bars.iter().for_each(|bar| bitmap.rectangle(*bar));
    for line in &layout.lines {
        if let Some(face) = line.weight.face() {
            face.draw(&line.words, line.size, [line.x, line.baseline], &mut bitmap);
        }
    }
    bitmap
}
