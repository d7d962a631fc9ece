//! Bytes of a DXF file as pairs of a group code and a value, each with its place.
//!
//! In: the bytes. Out: pairs, or the place where they stop making sense. Must not know: what the codes mean beyond how wide a value is.
//!
//! As the DXF reference has it: in text a pair is two lines; in binary a code of one byte (before release 13) or two, then a value whose
//! width follows from the code.

use std::borrow::Cow;

use super::letters::Letters;

/// What a binary file starts with.
const SENTINEL: &[u8] = b"AutoCAD Binary DXF\r\n\x1a\0";

/// A group code and its value, as text.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Pair<'a> {
    pub(super) code: i32,
    pub(super) value: Cow<'a, str>,
    /// Line of the code, from 1; in a binary file the byte, from 0.
    pub(super) place: usize,
}

/// Where and why the pairs stop.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Broken {
    pub(super) place: usize,
    pub(super) given: String,
    pub(super) expected: &'static str,
}

/// The whole file as pairs.
pub(super) enum Pairs<'a> {
    Text { lines: std::str::Split<'a, char>, next: usize },
    Binary { bytes: &'a [u8], at: usize, wide: bool, letters: Letters },
}

/// True if the bytes are a binary DXF file.
pub(super) fn is_binary(bytes: &[u8]) -> bool {
    bytes.starts_with(SENTINEL)
}

impl<'a> Pairs<'a> {
    pub(super) fn of_text(text: &'a str) -> Self {
        Self::Text { lines: text.split('\n'), next: 1 }
    }

    pub(super) fn of_binary(bytes: &'a [u8], letters: Letters) -> Self {
        // The first pair is 0 SECTION. With codes of two bytes a second zero stands before the word.
        let at = SENTINEL.len();
        let wide = bytes.get(at + 1) == Some(&0);
        Self::Binary { bytes, at, wide, letters }
    }
}

impl<'a> Iterator for Pairs<'a> {
    type Item = Result<Pair<'a>, Broken>;

    fn next(&mut self) -> Option<Self::Item> {
        loop {
            let pair = match self {
                Self::Text { lines, next } => text_pair(lines, next)?,
                Self::Binary { bytes, at, wide, letters } => binary_pair(bytes, at, *wide, *letters)?,
            };
            // 999 is a comment.
            if !matches!(&pair, Ok(p) if p.code == 999) {
                return Some(pair);
            }
        }
    }
}

fn text_pair<'a>(lines: &mut std::str::Split<'a, char>, next: &mut usize) -> Option<Result<Pair<'a>, Broken>> {
    let place = *next;
    let code = lines.next()?.trim();
    if code.is_empty() && lines.clone().all(|l| l.trim().is_empty()) {
        return None; // empty lines at the end
    }
    *next += 1;
    let Ok(code) = code.parse::<i32>() else {
        let given = format!("\"{}\"", super::shortened(code));
        return Some(Err(Broken { place, given, expected: "a group code: a whole number on a line of its own" }));
    };
    let Some(value) = lines.next() else {
        let given = format!("group code {code}, and then the end of the file");
        return Some(Err(Broken { place, given, expected: "a value on the line after it" }));
    };
    *next += 1;
    let value = value.strip_suffix('\r').unwrap_or(value);
    Some(Ok(Pair { code, value: Cow::Borrowed(value), place }))
}

/// How the values of a group code stand in a binary file.
enum Width {
    Text,
    /// A whole number of so many bytes.
    Whole(usize),
    Double,
    Chunk,
}

const fn width(code: i32, wide: bool) -> Option<Width> {
    Some(match code {
        0..=9
        | 100..=102
        | 105
        | 300..=309
        | 320..=369
        | 390..=399
        | 410..=419
        | 430..=439
        | 470..=481
        | 999
        | 1000..=1003
        | 1005..=1009 => Width::Text,
        10..=59 | 110..=149 | 210..=239 | 460..=469 | 1010..=1059 => Width::Double,
        60..=79 | 170..=179 | 270..=289 | 370..=389 | 400..=409 | 1060..=1070 => Width::Whole(2),
        90..=99 | 420..=429 | 440..=459 | 1071 => Width::Whole(4),
        160..=169 => Width::Whole(8),
        290..=299 => Width::Whole(if wide { 1 } else { 2 }),
        310..=319 | 1004 => Width::Chunk,
        _ => return None,
    })
}

fn binary_pair<'a>(bytes: &'a [u8], at: &mut usize, wide: bool, letters: Letters) -> Option<Result<Pair<'a>, Broken>> {
    let place = *at;
    if place >= bytes.len() {
        return None;
    }
    let cut = || Broken { place, given: "the end of the file within a value".to_owned(), expected: "a whole value" };
    let mut take = |n: usize| -> Option<&'a [u8]> {
        let there = bytes.get(*at..at.checked_add(n)?)?;
        *at += n;
        Some(there)
    };
    let two = |b: &[u8]| i32::from(i16::from_le_bytes([b[0], b[1]]));
    let code = if wide {
        take(2).map(two)
    } else {
        match take(1) {
            Some([255]) => take(2).map(two),
            other => other.map(|b| i32::from(b[0])),
        }
    };
    let Some(code) = code else { return Some(Err(cut())) };
    let value = match width(code, wide) {
        None => {
            let given = format!("group code {code}");
            return Some(Err(Broken { place, given, expected: "a group code that the DXF reference lists" }));
        }
        Some(Width::Text) => {
            let Some(end) = bytes[*at..].iter().position(|&b| b == 0) else { return Some(Err(cut())) };
            let raw = &bytes[*at..*at + end];
            *at += end + 1;
            letters.text(raw)
        }
        Some(Width::Chunk) => {
            let Some(n) = take(1) else { return Some(Err(cut())) };
            if take(usize::from(n[0])).is_none() {
                return Some(Err(cut()));
            }
            Cow::Borrowed("")
        }
        Some(Width::Double) => {
            let Some(b) = take(8).and_then(|b| <[u8; 8]>::try_from(b).ok()) else { return Some(Err(cut())) };
            Cow::Owned(format!("{:?}", f64::from_le_bytes(b)))
        }
        Some(Width::Whole(n)) => {
            let Some(b) = take(n) else { return Some(Err(cut())) };
            // The sign is that of the last byte.
            let fill = if b.last().is_some_and(|&l| l >= 0x80) { 0xff } else { 0 };
            let mut all = [fill; 8];
            all[..n].copy_from_slice(b);
            Cow::Owned(i64::from_le_bytes(all).to_string())
        }
    };
    Some(Ok(Pair { code, value, place }))
}
