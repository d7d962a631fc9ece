//! What the jobs cost: the tables of their quotes, as the quote itself prints them.

use super::markup::Html;
use super::{Head, Page, capital, fact, table};
use crate::report::quote::Table;

impl Page<'_> {
    pub(super) fn price(&self, h: &mut Html) {
        if self.prices.is_empty() {
            return;
        }
        h.within("section", &[("id", "price"), ("aria-labelledby", "price-title")], |h| {
            h.leaf("h2", &[("id", "price-title")], "Price");
            for price in &self.prices {
                of_job(h, price);
            }
        });
    }
}

fn of_job(h: &mut Html, price: &Table) {
    let caption = format!("{} for {}", price.title, price.job);
    h.within("div", &[], |h| {
        h.within("h3", &[], |h| {
            h.text(&format!("{} for ", price.title));
            h.name(&price.job);
        });
        h.within("dl", &[("class", "figures")], |h| {
            for [label, words] in &price.head {
                fact(h, &capital(label), |h| h.text(words));
            }
        });
        for words in &price.cautions {
            h.leaf("p", &[("class", "note")], words);
        }
        let [_, columns @ ..] = price.columns.map(capital);
        let mut heads = vec![Head::Words("What")];
        // The amount is what must be seen on any screen.
        let last = columns.len() - 1;
        heads.extend(columns[..last].iter().map(|c| Head::Rest(c)));
        heads.extend(columns[last..].iter().map(|c| Head::Number(c)));
        table(h, &caption, &heads, |h| {
            for row in &price.rows {
                h.within("tr", &[], |h| {
                    let [what, numbers @ ..] = &row.cells;
                    h.within("th", &[("scope", "row")], |h| {
                        h.name(what);
                        if !row.note.is_empty() {
                            h.leaf("small", &[], &format!(" {}", row.note));
                        }
                        let [quantity, unit, rate, _] = numbers;
                        h.leaf("small", &[("class", "narrow")], &format!(" {quantity} {unit} at {rate}"));
                    });
                    for (i, cell) in numbers.iter().enumerate() {
                        h.leaf("td", if i < last { &[("class", "rest")] } else { &[] }, cell);
                    }
                });
            }
            for [label, amount] in &price.sums {
                h.within("tr", &[("class", "sum")], |h| {
                    h.leaf("th", &[("scope", "row")], &capital(label));
                    for _ in 0..last {
                        h.leaf("td", &[("class", "rest")], "");
                    }
                    h.within("td", &[], |h| h.leaf("b", &[], amount));
                });
            }
        });
        if !price.lacking.is_empty() {
            list(h, "Not in the total", &price.lacking);
        }
        for (heading, sentences) in price.sections.iter().filter(|s| !s.1.is_empty()) {
            list(h, heading, sentences);
        }
    });
}

fn list(h: &mut Html, heading: &str, sentences: &[String]) {
    h.leaf("h4", &[], heading);
    h.within("ul", &[], |h| {
        for words in sentences {
            h.leaf("li", &[], words);
        }
    });
}
