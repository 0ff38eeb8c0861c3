//! What made a picture, as text inside its file.

use super::Provenance;

/// The bytes before a PNG's first chunk.
const MAGIC: &[u8] = b"\x89PNG\r\n\x1a\n";

/// Length of the chunk that comes first, `IHDR`: 13 bytes, and its frame.
const HEADER: usize = 13 + 12;

/// A PNG that says which program made it, when, by which method and from which
/// inputs (`iTXt`, PNG specification, third edition, section 11.3.3.4); what is no
/// PNG as it is.
#[must_use]
pub fn signed(picture: &[u8], provenance: &Provenance) -> Vec<u8> {
    let split = MAGIC.len() + HEADER;
    let Some((head, rest)) = picture.split_at_checked(split).filter(|(h, _)| h.starts_with(MAGIC))
    else {
        return picture.to_vec();
    };
    let texts = [
        ("Software", format!("{} {}", provenance.program, provenance.version)),
        ("Creation Time", provenance.made_at.clone()),
        ("Comment", provenance.lines()),
    ];
    let mut signed = head.to_vec();
    for (keyword, text) in texts {
        // Neither compressed nor in a language that matters.
        signed.extend(chunk(*b"iTXt", format!("{keyword}\0\0\0\0\0{text}").as_bytes()));
    }
    signed.extend_from_slice(rest);
    signed
}

/// A chunk in its frame: length, kind, content, and a check sum of these two.
fn chunk(kind: [u8; 4], content: &[u8]) -> Vec<u8> {
    let inside = [kind.as_slice(), content].concat();
    // A line of text.
    let length = u32::try_from(content.len()).unwrap_or(u32::MAX).to_be_bytes();
    [length.as_slice(), &inside, &crc32fast::hash(&inside).to_be_bytes()].concat()
}

#[cfg(test)]
mod tests {
    use super::*;
    use perchline_units::{Db, Percent, Refractivity};

    #[test]
    fn a_signed_picture_is_the_same_picture_and_says_what_made_it() {
        let mut picture = Vec::new();
        let mut encoder = png::Encoder::new(&mut picture, 2, 1);
        encoder.set_color(png::ColorType::Rgb);
        encoder.write_header().unwrap().write_image_data(&[1, 2, 3, 4, 5, 6]).unwrap();
        let provenance = Provenance {
            program: "perchline",
            version: "1.2.3",
            method: "two-ray",
            method_source: "",
            instructions: "",
            k_factor: 4.0 / 3.0,
            delta_n: None,
            n0: Refractivity::new(325.0),
            time_percent: Percent::new(50.0),
            reliability: 0.95,
            location_spread_db: Db::new(0.0),
            model_error_db: Db::new(0.0),
            made_at: "2026-12-05T16:30:00Z".to_owned(),
            inputs: Vec::new(),
        };
        let signed = signed(&picture, &provenance);
        let mut reader = png::Decoder::new(std::io::Cursor::new(&signed)).read_info().unwrap();
        let texts: Vec<String> =
            reader.info().utf8_text.iter().map(|t| t.get_text().unwrap()).collect();
        assert_eq!(texts[..2], ["perchline 1.2.3", "2026-12-05T16:30:00Z"]);
        assert!(texts[2].contains("two-ray"));
        let mut pixels = vec![0; 6];
        reader.next_frame(&mut pixels).unwrap();
        assert_eq!(pixels, [1, 2, 3, 4, 5, 6]);
        assert_eq!(super::signed(b"no picture", &provenance), b"no picture");
    }
}
