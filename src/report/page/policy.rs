//! What a browser may run and load for the page: our script and our styles, known by their hashes, and nothing from
//! anywhere else. The only file that knows the hashing library.

use sha2::{Digest, Sha256};

/// A script in brackets that HTML reads as comments of the script, and XML as plain text.
pub fn bracketed_script(source: &str) -> String {
    format!("//<![CDATA[\n{}//]]>\n", unix(source))
}

/// The same for a style.
pub fn bracketed_style(source: &str) -> String {
    format!("/*<![CDATA[*/\n{}/*]]>*/\n", unix(source))
}

/// Browsers read line ends so before they hash.
fn unix(source: &str) -> String {
    source.replace("\r\n", "\n")
}

/// The policy (W3C, Content Security Policy Level 3) that allows these scripts and styles, pictures that stand in the page
/// itself, and no traffic.
pub fn text(scripts: &[&str], styles: &[&str]) -> String {
    let hashes = |sources: &[&str]| sources.iter().map(|s| format!(" 'sha256-{}'", hash(s))).collect::<String>();
    format!(
        "default-src 'none'; script-src{}; style-src{}; img-src data:; base-uri 'none'; form-action 'none'",
        hashes(scripts),
        hashes(styles)
    )
}

/// SHA-256 in base 64.
fn hash(source: &str) -> String {
    base64(&Sha256::digest(source.as_bytes()))
}

/// RFC 4648, section 4.
fn base64(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::new();
    for chunk in bytes.chunks(3) {
        let word = chunk.iter().fold(0_u32, |w, &b| w << 8 | u32::from(b)) << (8 * (3 - chunk.len()));
        for i in 0..4 {
            let digit = DIGITS[(word >> (18 - 6 * i) & 63) as usize];
            out.push(if i <= chunk.len() { char::from(digit) } else { '=' });
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::{base64, hash};

    #[test]
    fn base64_is_that_of_the_standard() {
        // RFC 4648, section 10.
        for (plain, coded) in [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ] {
            assert_eq!(base64(plain.as_bytes()), coded);
        }
    }

    #[test]
    fn the_hash_is_that_of_the_standard() {
        // FIPS 180-4, the example of one block: "abc".
        assert_eq!(hash("abc"), "ungWv48Bz+pBQUDeXa4iI7ADYaOWF3qctBD/YfIAFa0=");
    }
}
