//! Texts of a drawing without the marks for how they look.
//!
//! In: a text as it stands in the file. Out: its words on one line. Must not know: where it stands.

/// A line of text: `%%c`, `%%d` and `%%p` are signs, `%%u` and `%%o` lines under and over it, `\U+00E9` a letter.
pub(super) fn plain(text: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        if let Some(tail) = rest.strip_prefix("%%")
            && let Some(mark) = tail.chars().next()
        {
            let sign = match mark.to_ascii_lowercase() {
                'c' => Some("⌀"),
                'd' => Some("°"),
                'p' => Some("±"),
                '%' => Some("%"),
                'u' | 'o' | 'k' => Some(""),
                _ => None,
            };
            if let Some(sign) = sign {
                out.push_str(sign);
                rest = &tail[mark.len_utf8()..];
                continue;
            }
        }
        if let Some((letter, tail)) = code_point(rest) {
            out.push(letter);
            rest = tail;
            continue;
        }
        out.push(c);
        rest = &rest[c.len_utf8()..];
    }
    one_line(&out)
}

/// A text of several lines with marks: `\P` ends a line, `{ }` hold what a mark is for, `\f...;` and the like are marks.
pub(super) fn plain_many(text: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        if let Some((letter, tail)) = code_point(rest) {
            out.push(letter);
            rest = tail;
            continue;
        }
        let tail = &rest[c.len_utf8()..];
        if c == '{' || c == '}' {
            rest = tail;
            continue;
        }
        if c == '\\'
            && let Some(mark) = tail.chars().next()
        {
            let after = &tail[mark.len_utf8()..];
            rest = match mark {
                'P' | 'N' | '~' | 'X' => {
                    out.push(' ');
                    after
                }
                '\\' | '{' | '}' => {
                    out.push(mark);
                    after
                }
                'L' | 'l' | 'O' | 'o' | 'K' | 'k' => after,
                // Stacked figures: their parts stay, with the sign between.
                'S' => {
                    let end = after.find(';').unwrap_or(after.len());
                    out.push_str(&after[..end].replace(['^', '#'], "/"));
                    after.get(end + 1..).unwrap_or("")
                }
                // A mark with a value up to a semicolon.
                _ => after.find(';').map_or("", |i| &after[i + 1..]),
            };
            continue;
        }
        out.push(c);
        rest = tail;
    }
    plain(&out)
}

/// A name with `\U+XXXX` as letters.
pub(super) fn letters_of(name: &str) -> String {
    let mut out = String::with_capacity(name.len());
    let mut rest = name;
    while let Some(c) = rest.chars().next() {
        match code_point(rest) {
            Some((letter, tail)) => {
                out.push(letter);
                rest = tail;
            }
            None => {
                out.push(c);
                rest = &rest[c.len_utf8()..];
            }
        }
    }
    out
}

/// The letter of `\U+XXXX`, and what follows.
fn code_point(text: &str) -> Option<(char, &str)> {
    let tail = text.strip_prefix("\\U+").or_else(|| text.strip_prefix("\\u+"))?;
    let digits = tail.get(..4)?;
    let letter = u32::from_str_radix(digits, 16).ok().and_then(char::from_u32)?;
    Some((letter, &tail[4..]))
}

/// On one line, each run of spaces one space, 200 letters at most.
fn one_line(text: &str) -> String {
    const MOST: usize = 200;
    let words: Vec<&str> =
        text.split(|c: char| c.is_whitespace() || c.is_control()).filter(|w| !w.is_empty()).collect();
    words.join(" ").chars().take(MOST).collect()
}

#[cfg(test)]
mod tests {
    use super::{plain, plain_many};

    #[test]
    fn marks_of_looks_are_taken_out() {
        assert_eq!(plain("  bar  top %%c35 \\U+00E9 100%% 5%%d"), "bar top ⌀35 é 100%% 5°");
        assert_eq!(plain("%%usink%%u %"), "sink %");
        assert_eq!(plain_many("{\\fArial|b0|i0;\\H2.5;bar}\\Ptop \\\\ \\S1/2; \\Lx\\l"), "bar top \\ 1/2 x");
        assert_eq!(plain_many("\\fArial"), "");
        assert_eq!(plain("\\U+12"), "\\U+12");
    }
}
