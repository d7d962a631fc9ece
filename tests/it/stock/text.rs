//! Rack files of every look: slabs go and come, and every other line stays.

use proptest::prelude::*;
use scantling::io::{self, Put, RackText, Record};

use super::super::make;

/// Ways to write a slab. `N` stands for its number.
const LOOKS: [&str; 6] = [
    "[[slab]]\nname = \"N\"\nmaterial = \"m\"\nthickness = 30\nprice = 1N\noutline.rectangle = [2000, 1000]\n",
    "# about N\n# and more about N\n[[slab]]   # N\nname = 'N' # a name\nmaterial = \"m\"\nthickness = 30\nprice = 1N\n\
     outline.rectangle = [2000, 1000]\n\n  # a flaw of N\n[[slab.flaw]]\nkind = \"pit\"\nspot = [5, 5]\ndiameter = 3\n",
    "[[ slab ]]\nname = \"N\"\nmaterial = \"m\"\nthickness = 30\nprice = 1N\n[slab.outline]\nrectangle = [\n  2000, # long\n\n  1000,\n]\n",
    "[[slab]]\n\n# inside N\nmaterial = \"m\"\nthickness = 30\nprice = 1N\noutline = { rectangle = [2000, 1000] }\n\
     lot = \"\"\"# no comment \\\n  [[slab]] nor a header\"\"\"\nname = \"N\"\n# after N\n",
    "[[slab]]\nname = \"N\"\nmaterial = \"m\"\nthickness = 30\nprice = 1N\noutline.rectangle = [2000, 1000]\n\
     [slab.tests]\ndensity = 2700\n",
    "[[slab]]\nthickness = 30\nprice = 1N\nmaterial = \"m\"\noutline.rectangle = [2000, 1000]\nname = \"N\"\n[[slab.flaw]]\n\
     kind = \"stain\"\narea = [\n[0, 0], [9, 0],\n[9, 9]]\n\n[[slab.flaw]]\nkind = \"crack\"\nline = [[0, 0], [1, 1]] # end\n",
];

#[derive(Clone, Debug)]
struct Rack {
    text: String,
    slabs: usize,
}

/// A rack of slabs, blank lines and notes in any order.
fn racks() -> impl Strategy<Value = Rack> {
    let part = prop_oneof![3 => (0..LOOKS.len()).prop_map(Some), 1 => Just(None)];
    let head = prop_oneof![
        Just(""),
        Just("units = \"mm\"\n"),
        Just("# Yard.\nunits = \"mm\"\n"),
        Just("# Yard.\n\n\nunits = \"mm\" # as ever\n")
    ];
    (head, prop::collection::vec((part, 0..3usize), 1..9), any::<bool>(), any::<bool>()).prop_map(
        |(head, parts, crlf, open)| {
            let mut text = head.to_owned();
            let mut slabs = 0;
            for (k, (part, blank)) in parts.into_iter().enumerate() {
                match part {
                    Some(look) => {
                        text.push_str(&LOOKS[look].replace('N', &format!("{slabs}")));
                        slabs += 1;
                    }
                    None => text.push_str(&format!("\n# note {k}\n\n")),
                }
                text.push_str(&"\n".repeat(blank));
            }
            if open {
                text.truncate(text.trim_end().len());
            }
            Rack { text: if crlf { text.replace('\n', "\r\n") } else { text }, slabs }
        },
    )
}

fn lines(text: &str) -> Vec<&str> {
    text.lines().filter(|l| !l.trim().is_empty()).collect()
}

fn names(text: &str) -> Vec<String> {
    io::read_rack_from_text("rack", text)
        .unwrap_or_else(|e| panic!("{e}\n{text}"))
        .0
        .into_iter()
        .map(|s| s.name)
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]

    #[test]
    fn slabs_go_and_come_and_all_else_stays(rack in racks(), gone in any::<u16>(), come in 0..3usize, cheaper in any::<bool>()) {
        let before = RackText::read("rack", &rack.text).unwrap();
        prop_assert_eq!(names(&rack.text).len(), rack.slabs);
        let without: Vec<String> = (0..rack.slabs).filter(|k| gone >> k & 1 == 1).map(|k| k.to_string()).collect();
        let offcuts: Vec<String> = (0..come).map(|k| format!("new {k}")).collect();
        let with: Vec<(Put, String)> =
            offcuts.iter().map(|n| (Put::Last, before.write(&make::slab(n, 800.0, 600.0, 9.0)))).collect();
        let after = before.edited(&without, &with);

        // The slabs are those that stay and those that come, in order.
        let mut expected: Vec<String> = (0..rack.slabs).map(|k| k.to_string()).filter(|n| !without.contains(n)).collect();
        expected.extend(offcuts.iter().cloned());
        prop_assert_eq!(names(&after), expected);
        // Every line that belongs to no slab that goes is there, in its order; no other line is but those that come.
        let mut left = lines(&rack.text);
        for name in &without {
            let block = lines(before.slab(name).unwrap());
            let at = left.windows(block.len()).position(|w| w == block.as_slice()).unwrap();
            left.drain(at..at + block.len());
        }
        let written: Vec<&str> = with.iter().flat_map(|w| lines(&w.1)).collect();
        let found: Vec<&str> = lines(&after);
        let mut rest = found.clone();
        if !written.is_empty() {
            let at = rest.windows(written.len()).position(|w| w == written.as_slice()).unwrap();
            rest.drain(at..at + written.len());
        }
        prop_assert_eq!(&rest, &left);
        // Line ends are all of one kind, and blank lines do not pile up where a slab was.
        if rack.text.contains("\r\n") {
            prop_assert_eq!(after.matches('\n').count(), after.matches("\r\n").count());
        }

        // Taken back: byte for byte; and line for line where one slab was edited meanwhile.
        let record = Record {
            format: Record::FORMAT.to_owned(), number: 1, date: "2026-11-26".to_owned(), jobs: vec!["j".to_owned()],
            slabs: without.clone(), offcuts, before: rack.text.clone(), after: after.clone(), seal: String::new(),
        };
        prop_assert_eq!(&io::taken_back("rack", &record, &after).unwrap(), &rack.text);
        let stays = (0..rack.slabs).find(|k| gone >> k & 1 == 0);
        if let (true, Some(k)) = (cheaper, stays) {
            let (old, new) = (format!("price = 1{k}"), format!("price = 0.{k}"));
            let edited = after.replacen(&old, &new, 1);
            prop_assert_ne!(&edited, &after);
            let back = io::taken_back("rack", &record, &edited).unwrap();
            let wanted = rack.text.replacen(&old, &new, 1);
            prop_assert_eq!(lines(&back), lines(&wanted));
        }
    }
}

/// What is no rack is no panic either.
#[test]
fn odd_texts_are_read_or_refused() {
    for text in [
        "",
        "\n",
        "#",
        "\u{feff}",
        "slab = []",
        "slab = 1",
        "[slab]\nname = 1",
        "[[slab]]",
        "[[slab]]\n[[slab]]",
        "units = 3\n[[slab]]\nname = 4",
        "a.b.c = 1\n[x]\n[[slab]]\n#",
        "[[slab]]\nname = '",
    ] {
        if let Ok(rack) = RackText::read("rack", text) {
            let slab = make::slab("x", 10.0, 10.0, 1.0);
            let with = [(rack.place(None, &["# gone"], &[]), rack.write(&slab)), (Put::Last, rack.write(&slab))];
            let out = rack.edited(&[String::new()], &with);
            assert_eq!(out.matches("[[slab]]\nname = \"x\"\n").count(), 2, "{out}");
        }
    }
}
