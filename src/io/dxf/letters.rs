//! Letters of old files: the code page that a header names. The only file that knows `encoding_rs`.
//!
//! In: the bytes of a file. Out: texts. Must not know: group codes.

use std::borrow::Cow;

use encoding_rs::{
    BIG5, EUC_KR, Encoding, GBK, SHIFT_JIS, WINDOWS_874, WINDOWS_1250, WINDOWS_1251, WINDOWS_1252, WINDOWS_1253,
    WINDOWS_1254, WINDOWS_1255, WINDOWS_1256, WINDOWS_1257, WINDOWS_1258,
};

/// Code pages by the names that `$DWGCODEPAGE` has for them.
const PAGES: [(&str, &Encoding); 14] = [
    ("ANSI_1252", WINDOWS_1252),
    ("ANSI_874", WINDOWS_874),
    ("ANSI_932", SHIFT_JIS),
    ("ANSI_936", GBK),
    ("ANSI_949", EUC_KR),
    ("ANSI_950", BIG5),
    ("ANSI_1250", WINDOWS_1250),
    ("ANSI_1251", WINDOWS_1251),
    ("ANSI_1253", WINDOWS_1253),
    ("ANSI_1254", WINDOWS_1254),
    ("ANSI_1255", WINDOWS_1255),
    ("ANSI_1256", WINDOWS_1256),
    ("ANSI_1257", WINDOWS_1257),
    ("ANSI_1258", WINDOWS_1258),
];

/// How the texts of a file are read.
#[derive(Clone, Copy, Debug)]
pub(super) struct Letters {
    /// None: the file is UTF-8.
    page: Option<(&'static str, &'static Encoding)>,
}

impl Letters {
    /// By what stands in the file: UTF-8 if all of a text file is that, else the code page that its header names, else 1252.
    pub(super) fn of(bytes: &[u8]) -> Self {
        if std::str::from_utf8(bytes).is_ok() {
            return Self { page: None };
        }
        let named = named(bytes).and_then(|name| PAGES.iter().find(|(n, _)| n.eq_ignore_ascii_case(&name)));
        Self { page: Some(*named.unwrap_or(&PAGES[0])) }
    }

    /// The name of the code page, if one is used.
    pub(super) fn page(self) -> Option<&'static str> {
        self.page.map(|p| p.0)
    }

    /// Bytes as text. What is UTF-8 is read so; bytes that the code page does not have become the replacement mark.
    pub(super) fn text(self, bytes: &[u8]) -> Cow<'_, str> {
        let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
        match std::str::from_utf8(bytes) {
            Ok(text) => Cow::Borrowed(text),
            Err(_) => self.page.map_or(WINDOWS_1252, |p| p.1).decode_without_bom_handling(bytes).0,
        }
    }
}

/// The word behind `$DWGCODEPAGE`.
fn named(bytes: &[u8]) -> Option<String> {
    const NAME: &[u8] = b"$DWGCODEPAGE";
    /// Between the name and its value stand a line end or a zero, and a group code.
    const REACH: usize = 40;
    let at = bytes.windows(NAME.len()).position(|w| w == NAME)? + NAME.len();
    let near = bytes.get(at..(at + REACH).min(bytes.len()))?;
    let start = near.iter().position(u8::is_ascii_alphabetic)?;
    let word = near[start..].iter().take_while(|b| b.is_ascii_alphanumeric() || **b == b'_');
    Some(word.map(|&b| char::from(b)).collect())
}
