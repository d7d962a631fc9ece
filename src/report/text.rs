//! Sizes of text by character widths, shortening and wrapping. Knows no font file: the widths are those of a wide common
//! sans-serif face, so that narrower faces fit too.

/// Smallest font size on a sheet, mm. Capitals of common sans-serif faces are 0.716 em or more high: 1.86 mm. Smaller
/// text cannot be read at arm's length on a wet saw table (ISO 3098 starts at 1.8 mm, from memory).
pub const LEAST_SIZE: f64 = 2.6;

/// Height of text above its baseline, em: capitals with their accents.
pub const ASCENT: f64 = 0.80;

/// Depth of text below its baseline, em.
pub const DESCENT: f64 = 0.24;

/// Distance of baselines, em.
pub const PITCH: f64 = 1.18;

/// What bold adds to the widths, as a factor.
const BOLD: f64 = 1.12;

/// Advance of a character, em. Estimates, on the wide side.
fn advance(c: char) -> f64 {
    match c {
        ' ' | '.' | ',' | 'i' | 'j' | 'l' | 'I' | '|' | '\'' => 0.34,
        ':' | ';' | '/' | '\\' => 0.34,
        '(' | ')' | '[' | ']' | '-' | 'f' | 't' | '!' => 0.43,
        'r' | '"' | '²' | '°' | '*' => 0.50,
        's' | 'z' | 'c' | 'J' | '?' => 0.56,
        'a' | 'e' | 'k' | 'o' | 'v' | 'x' | 'y' | 'L' | 'F' => 0.62,
        'b' | 'd' | 'g' | 'h' | 'n' | 'p' | 'q' | 'u' | '0'..='9' | 'T' => 0.64,
        'E' | 'P' | 'S' | 'Y' => 0.67,
        'A' | 'B' | 'V' | 'X' | 'Z' => 0.70,
        'C' | 'K' | 'R' => 0.73,
        'D' | 'G' | 'H' | 'N' | 'O' | 'Q' | 'U' => 0.79,
        'w' | '×' | '+' | '=' | '<' | '>' | '#' | '~' | '&' => 0.84,
        'm' | 'M' | '%' => 0.98,
        'W' | '@' | '…' => 1.02,
        c if c.is_ascii() => 0.84,
        c if (c as u32) < 0x0530 => 0.80,
        // Everything else may be as wide as an ideograph or a picture.
        _ => 1.25,
    }
}

/// The text without what XML, a terminal or a page could trip over: control characters and breaks become spaces, marks
/// that turn the reading direction and characters that XML forbids go.
#[must_use]
pub fn clean(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            c if c.is_control() || c == '\u{2028}' || c == '\u{2029}' => out.push(' '),
            '\u{200B}'..='\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}' | '\u{FEFF}' => {}
            c if (c as u32) & 0xFFFE == 0xFFFE => {}
            c => out.push(c),
        }
    }
    out
}

/// Width of a text, mm, at a font size in mm.
#[must_use]
pub fn width(text: &str, size: f64, bold: bool) -> f64 {
    text.chars().map(advance).sum::<f64>() * size * if bold { BOLD } else { 1.0 }
}

/// The text, or as much of it as fits the width (mm) with an ellipsis behind it.
#[must_use]
pub fn shorten(text: &str, size: f64, bold: bool, room: f64) -> String {
    let text = clean(text);
    if width(&text, size, bold) <= room {
        return text;
    }
    let factor = size * if bold { BOLD } else { 1.0 };
    let mut left = room - advance('…') * factor;
    let mut out = String::new();
    for c in text.chars() {
        left -= advance(c) * factor;
        if left < 0.0 {
            break;
        }
        out.push(c);
    }
    let mut out = out.trim_end().to_owned();
    out.push('…');
    out
}

/// The text in lines that fit the width (mm); a word that is too long is broken.
#[must_use]
pub fn wrap(text: &str, size: f64, bold: bool, room: f64) -> Vec<String> {
    let text = clean(text);
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let with = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
        if width(&with, size, bold) <= room {
            line = with;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        for c in word.chars() {
            line.push(c);
            if width(&line, size, bold) > room && line.chars().count() > 1 {
                line.pop();
                lines.push(std::mem::take(&mut line));
                line.push(c);
            }
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}
