//! Latitude and longitude in degrees, with or without minutes and seconds.

use super::{METRES_PER_DEGREE, PositionError, Reading, impossible, position};
use perchline_units::Metres;

/// A spot is told to be coarse when its last typed digit moves it further than this.
const COARSE: Metres = Metres::new(50.0);

#[derive(Debug, Clone, Copy, PartialEq)]
enum Token {
    /// A number: value, sign typed, digits after the point.
    Number {
        value: f64,
        signed: bool,
        negative: bool,
        decimals: u32,
    },
    /// North, south, east or west.
    Hemisphere(char),
    /// Marks of degrees (0), minutes (1) and seconds (2).
    Mark(usize),
    Comma,
}

/// One angle of a pair.
struct Angle {
    degrees: f64,
    hemisphere: Option<char>,
    /// What one step of the last typed digit comes to, in degrees.
    step: f64,
}

/// Reads two angles; `None` when the text is not made of angles at all.
pub(super) fn read(text: &str) -> Option<Result<Reading, PositionError>> {
    let tokens = tokens(text)?;
    let (first, second) = match halves(&tokens) {
        Some(halves) => halves,
        None if tokens.len() >= 2 => {
            return Some(Err(impossible(
                text,
                "it is not clear where the latitude ends and the longitude begins; put one comma \
                 between them and use a point for decimals",
            )));
        }
        None => return None,
    };
    Some(pair(text, first, second))
}

fn pair(text: &str, first: &[Token], second: &[Token]) -> Result<Reading, PositionError> {
    let first = angle(text, first)?;
    let second = angle(text, second)?;
    let north = |angle: &Angle| angle.hemisphere.map(|h| matches!(h, 'N' | 'S'));
    let (latitude, longitude) = match (north(&first), north(&second)) {
        (None, None) | (Some(true), Some(false)) => (&first, &second),
        (Some(false), Some(true)) => (&second, &first),
        (Some(_), Some(_)) => {
            return Err(impossible(
                text,
                "both halves are of one kind; a position has one of N or S and one of E or W",
            ));
        }
        _ => {
            return Err(impossible(
                text,
                "only one half has its letter; give N or S and E or W, or signs alone",
            ));
        }
    };
    let position = position(text, latitude.degrees, longitude.degrees)?;
    let square = Metres::new(latitude.step.max(longitude.step) * METRES_PER_DEGREE);
    Ok(Reading { position, square: (square > COARSE).then_some(square) })
}

/// Splits the text into tokens; `None` at anything that no angle holds.
fn tokens(text: &str) -> Option<Vec<Token>> {
    let mut tokens = Vec::new();
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        let mut used = c.len_utf8();
        match c {
            c if c.is_whitespace() => {}
            '0'..='9' | '.' | '+' | '-' | '−' => {
                let (token, length) = number(rest)?;
                tokens.push(token);
                used = length;
            }
            ',' | ';' | '/' => tokens.push(Token::Comma),
            '°' | 'º' | '˚' | 'd' | 'D' => tokens.push(Token::Mark(0)),
            '"' | '″' | '”' => tokens.push(Token::Mark(2)),
            '\'' | '′' | '’' | 'm' | 'M' => {
                // Two primes in a row stand for the seconds' mark.
                let seconds = rest.starts_with("''") || rest.starts_with("′′");
                used = if seconds { 2 * used } else { used };
                tokens.push(Token::Mark(if seconds { 2 } else { 1 }));
            }
            // After a minutes' mark and a number a small s counts seconds.
            's' if matches!(tokens.as_slice(), [.., Token::Mark(1), Token::Number { .. }]) => {
                tokens.push(Token::Mark(2));
            }
            'n' | 's' | 'e' | 'w' | 'N' | 'S' | 'E' | 'W' => {
                tokens.push(Token::Hemisphere(c.to_ascii_uppercase()));
            }
            _ => return None,
        }
        rest = rest.get(used..)?;
    }
    Some(tokens)
}

/// The number at the front of the text and its length in bytes.
fn number(text: &str) -> Option<(Token, usize)> {
    let sign = text.chars().next().filter(|c| matches!(c, '+' | '-' | '−'));
    let skipped = sign.map_or(0, char::len_utf8);
    let digits = text.get(skipped..)?;
    let length = digits.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(digits.len());
    let digits = digits.get(..length)?;
    let value: f64 = digits.parse().ok()?;
    let decimals = digits.split_once('.').map_or(0, |(_, after)| after.len());
    let token = Token::Number {
        value,
        signed: sign.is_some(),
        negative: matches!(sign, Some('-' | '−')),
        decimals: u32::try_from(decimals).ok()?,
    };
    Some((token, skipped + length))
}

/// The tokens of the two angles.
fn halves(tokens: &[Token]) -> Option<(&[Token], &[Token])> {
    let places = |wanted: fn(&Token) -> bool| -> Vec<usize> {
        tokens.iter().enumerate().filter(|(_, t)| wanted(t)).map(|(i, _)| i).collect()
    };
    let commas = places(|t| matches!(t, Token::Comma));
    let letters = places(|t| matches!(t, Token::Hemisphere(_)));
    let degree_marks = places(|t| matches!(t, Token::Mark(0)));
    if let [comma] = commas.as_slice() {
        return Some((tokens.get(..*comma)?, tokens.get(comma + 1..)?));
    }
    if !commas.is_empty() {
        return None;
    }
    let split = match (letters.as_slice(), degree_marks.as_slice()) {
        ([0, second], _) => *second,
        ([first, ..], _) => first + 1,
        ([], [_, second]) => second.checked_sub(1)?,
        ([], []) if tokens.len().is_multiple_of(2) => tokens.len() / 2,
        _ => return None,
    };
    let (first, second) = tokens.split_at_checked(split)?;
    (!first.is_empty() && !second.is_empty()).then_some((first, second))
}

/// One angle out of its tokens.
fn angle(text: &str, tokens: &[Token]) -> Result<Angle, PositionError> {
    let mut hemisphere = None;
    let mut parts: Vec<(f64, u32)> = Vec::new();
    let mut sign = None;
    for (index, token) in tokens.iter().enumerate() {
        match *token {
            Token::Hemisphere(letter) => {
                if hemisphere.replace(letter).is_some() || (index != 0 && index + 1 != tokens.len())
                {
                    return Err(impossible(text, "a letter N, S, E or W is in the wrong place"));
                }
            }
            Token::Number { value, signed, negative, decimals } => {
                if signed && !parts.is_empty() {
                    return Err(impossible(text, "only degrees may have a sign"));
                }
                if signed {
                    sign = Some(negative);
                }
                parts.push((value, decimals));
            }
            Token::Mark(which) if which + 1 == parts.len() => {}
            Token::Mark(_) => {
                return Err(impossible(
                    text,
                    "a mark of degrees, minutes or seconds is out of order",
                ));
            }
            Token::Comma => {}
        }
    }
    if sign.is_some() && hemisphere.is_some() {
        return Err(impossible(text, "a sign and a letter N, S, E or W say the same; keep one"));
    }
    let count = parts.len();
    if !(1..=3).contains(&count) {
        return Err(impossible(text, "each half takes degrees, minutes and seconds at most"));
    }
    if parts.iter().rev().skip(1).any(|(value, _)| value.fract() != 0.0) {
        return Err(impossible(text, "only the last number of each half may have decimals"));
    }
    if parts.iter().skip(1).any(|(value, _)| *value >= 60.0) {
        return Err(impossible(text, "minutes and seconds run from 0 to below 60"));
    }
    let size = parts.iter().rev().fold(0.0, |sum, (value, _)| sum / 60.0 + value);
    let negative = sign == Some(true) || matches!(hemisphere, Some('S' | 'W'));
    let unit = match count {
        1 => 1.0,
        2 => 60.0,
        _ => 3600.0,
    };
    let decimals = parts.last().map_or(0, |(_, decimals)| *decimals);
    let step = 0.1_f64.powi(i32::try_from(decimals).unwrap_or(i32::MAX)) / unit;
    Ok(Angle { degrees: if negative { -size } else { size }, hemisphere, step })
}
