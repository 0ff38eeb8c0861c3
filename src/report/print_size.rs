//! The size in print of a picture.

use std::io;

use image::RgbImage;

use super::ReportError;

/// Dots an inch at which pictures for paper are drawn.
pub(super) const DOTS_AN_INCH: f64 = 300.0;

/// Dots an inch of a drawn sheet: a map of 2480 pixels is A4 across.
pub(super) const SHEET_DOTS: f64 = 212.0;

/// Millimetres in an inch (exact by definition).
const MILLIMETRES_AN_INCH: f64 = 25.4;

/// Pixels of a length on paper.
pub(super) const fn pixels(millimetres: f64) -> f64 {
    millimetres / MILLIMETRES_AN_INCH * DOTS_AN_INCH
}

/// A picture as PNG, marked with so many dots an inch, at which it is meant to be
/// printed, so that programs print it in its size (PNG specification, chunk
/// `pHYs`, pixels a metre).
///
/// # Errors
/// [`ReportError::Image`] when the picture cannot be packed.
pub(super) fn with_print_size(image: &RgbImage, dots: f64) -> Result<Vec<u8>, ReportError> {
    let a_metre = (dots / MILLIMETRES_AN_INCH * 1e3).round();
    let mut packed = Vec::new();
    let mut encoder = png::Encoder::new(&mut packed, image.width(), image.height());
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_pixel_dims(Some(png::PixelDimensions {
        // A few thousand.
        xppu: a_metre as u32,
        yppu: a_metre as u32,
        unit: png::Unit::Meter,
    }));
    let failed = |e: png::EncodingError| image::ImageError::from(io::Error::from(e));
    let mut writer = encoder.write_header().map_err(failed)?;
    writer.write_image_data(image).map_err(failed)?;
    writer.finish().map_err(failed)?;
    Ok(packed)
}
