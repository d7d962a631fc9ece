//! Writes HTML that is well-formed XML too, so that any reader of either can judge it. In: tags, attributes, text. Out: a
//! string. All text is cleaned and escaped here, and nowhere else.

use super::super::text;

/// A document in the making.
#[derive(Debug, Default)]
pub struct Html {
    out: String,
    open: Vec<&'static str>,
}

/// Attributes: names of ours, values from anywhere.
type Attributes<'a> = [(&'a str, &'a str)];

impl Html {
    /// Opens an element.
    pub fn open(&mut self, tag: &'static str, attributes: &Attributes<'_>) {
        self.tag(tag, attributes);
        self.out.push('>');
        self.open.push(tag);
    }

    /// Closes the element that was opened last.
    pub fn close(&mut self) {
        if let Some(tag) = self.open.pop() {
            self.out.push_str("</");
            self.out.push_str(tag);
            self.out.push('>');
            if BLOCKS.contains(&tag) {
                self.out.push('\n');
            }
        }
    }

    /// An element with what `content` writes into it.
    pub fn within(&mut self, tag: &'static str, attributes: &Attributes<'_>, content: impl FnOnce(&mut Self)) {
        self.open(tag, attributes);
        let depth = self.open.len();
        content(self);
        while self.open.len() > depth {
            self.close();
        }
        self.close();
    }

    /// An element with text only.
    pub fn leaf(&mut self, tag: &'static str, attributes: &Attributes<'_>, words: &str) {
        self.open(tag, attributes);
        self.text(words);
        self.close();
    }

    /// An element that can hold nothing: a void one of HTML, or a shape of SVG.
    pub fn empty(&mut self, tag: &'static str, attributes: &Attributes<'_>) {
        self.tag(tag, attributes);
        self.out.push_str("/>");
    }

    /// Text.
    pub fn text(&mut self, words: &str) {
        escape(words, &mut self.out);
    }

    /// A name from a file: its reading direction does not reach what stands beside it.
    pub fn name(&mut self, name: &str) {
        self.leaf("bdi", &[], name);
    }

    /// A style or a script of ours, in brackets that both HTML and XML read over.
    pub fn source(&mut self, tag: &'static str, attributes: &Attributes<'_>, source: &str) {
        self.open(tag, attributes);
        self.out.push_str(source);
        self.close();
    }

    /// What was written, everything closed.
    #[must_use]
    pub fn finish(mut self) -> String {
        while !self.open.is_empty() {
            self.close();
        }
        self.out
    }

    fn tag(&mut self, tag: &str, attributes: &Attributes<'_>) {
        self.out.push('<');
        self.out.push_str(tag);
        for (name, value) in attributes {
            self.out.push(' ');
            self.out.push_str(name);
            self.out.push_str("=\"");
            escape(value, &mut self.out);
            self.out.push('"');
        }
    }
}

/// Elements behind which a line ends: the file stays readable, and no space comes into running text.
const BLOCKS: [&str; 20] = [
    "head", "title", "style", "script", "header", "nav", "main", "section", "article", "figure", "aside", "table",
    "tr", "ul", "dl", "div", "p", "h2", "h3", "g",
];

/// Puts text behind `out`, without what could be taken for markup, break XML or turn the reading direction.
fn escape(words: &str, out: &mut String) {
    for c in text::clean(words).chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Html;

    #[test]
    fn text_and_values_are_escaped_and_cleaned() {
        let mut h = Html::default();
        h.leaf("p", &[("title", "\"><script>'\u{202E}&\u{0}")], "</p><script>alert('x')</script>\u{2066}\u{1b}\n");
        let out = h.finish();
        assert_eq!(
            out,
            "<p title=\"&quot;&gt;&lt;script&gt;&#39;&amp; \">&lt;/p&gt;&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt;  </p>\n"
        );
    }

    #[test]
    fn what_was_opened_is_closed() {
        let mut h = Html::default();
        h.within("section", &[], |h| {
            h.open("ul", &[]);
            h.open("li", &[]);
            h.empty("br", &[]);
        });
        h.open("b", &[]);
        assert_eq!(h.finish(), "<section><ul><li><br/></li></ul>\n</section>\n<b></b>");
    }
}
