//! Drawing requests: a seeded generator, odd values, and forms filled in badly.

/// Knuth's 64-bit linear congruential generator; the upper bits are taken.
pub(crate) struct Dice(pub(crate) u64);

/// What people, machines and mischief put into fields.
const ODD: [&str; 52] = [
    "",
    " ",
    "0",
    "-1",
    "-0",
    "1",
    "2",
    "3",
    "5",
    "1.5",
    "1,5",
    "7.5",
    "100",
    "1e999",
    "-1e999",
    "1e-320",
    "NaN",
    "inf",
    "0x10",
    "2147483648",
    "-9223372036854775809",
    "18446744073709551616",
    "2031-05-04",
    "2031-02-30",
    "0000-00-00",
    "99999-12-31",
    "-9999-01-01",
    "2031-05-04T25:61",
    "12:00",
    "kg",
    "lb",
    "null",
    "true",
    "none",
    "back squat",
    "Wilma Tarn",
    "wilma  tarn",
    "moon walk",
    "<script>alert(1)</script>",
    "' OR 1=1 --",
    "=1+1",
    "../../etc/passwd",
    "%00",
    "%ff",
    "a\u{0}b",
    "\u{202e}evil",
    "line\nbreak\ttab",
    "🏋️🏋️🏋️",
    "knees: été",
    "[[day]]\nname = \"A\"",
    "{\"a\":[",
    "3 x 8 at 70; 3 x 5 at 80",
];

/// Texts of JSON values, of which not every one is a value that every reader takes.
const ODD_JSON: [&str; 30] = [
    "null",
    "true",
    "false",
    "0",
    "-0",
    "-1",
    "1",
    "5",
    "0.5",
    "100",
    "1e5",
    "1e308",
    "1e999",
    "-1e999",
    "1E-400",
    "\"\"",
    "\"5\"",
    "\"\\ud800\"",
    "\"\\udfff x\"",
    "\"\\u0000\"",
    "\"kg\"",
    "\"lb\"",
    "\"back squat\"",
    "\"2031-05-04\"",
    "\"1970-01-01\"",
    "[]",
    "{}",
    "[[[[[[[[[[1]]]]]]]]]]",
    "{\"\\ud800\":1}",
    "nul",
];

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        self.0 >> 24
    }

    /// Evenly from 0 to below `n`.
    pub(crate) fn below(&mut self, n: usize) -> usize {
        (self.next() % n.max(1) as u64) as usize
    }

    /// Once in `n` times.
    pub(crate) fn once_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }

    /// One of several.
    pub(crate) fn of<'a, T>(&mut self, all: &'a [T]) -> &'a T {
        &all[self.below(all.len())]
    }

    /// An odd text for a field.
    pub(crate) fn odd(&mut self) -> String {
        match self.below(12) {
            0 => "9".repeat(1 + self.below(500)),
            1 => "x".repeat(self.below(6000)),
            2 => format!("{}", self.below(400)),
            _ => (*self.of(&ODD)).to_owned(),
        }
    }

    /// The text of an odd value in JSON.
    pub(crate) fn odd_json(&mut self) -> String {
        match self.below(12) {
            0 => "9".repeat(1 + self.below(500)),
            1 => {
                let deep = 1 + self.below(300);
                format!("{}1{}", "[".repeat(deep), "]".repeat(deep))
            }
            2 => format!("\"{}\"", "x".repeat(self.below(20_000))),
            3 => serde_json::to_string(self.of(&ODD)).unwrap(),
            _ => (*self.of(&ODD_JSON)).to_owned(),
        }
    }

    /// An id as phones make them.
    pub(crate) fn id(&mut self) -> String {
        let (a, b) = (self.next() & 0xffff_ffff, self.next() & 0xffff_ffff);
        format!("{a:08x}-0000-7000-8000-0000{b:08x}")
    }
}

/// A form's fields, some of them changed, left out, doubled or added.
pub(crate) fn filled(dice: &mut Dice, fields: &[(String, String)]) -> Vec<(String, String)> {
    let mut all: Vec<(String, String)> = Vec::new();
    let worst = 1 + dice.below(6);
    for (name, value) in fields {
        match dice.below(4 * worst) {
            0 => all.push((name.clone(), dice.odd())),
            1 => {}
            2 => all.extend([(name.clone(), value.clone()), (name.clone(), dice.odd())]),
            _ => all.push((name.clone(), value.clone())),
        }
    }
    if dice.once_in(10) {
        all.push((dice.odd(), dice.odd()));
    }
    all
}

/// As browsers write a form, or nearly.
pub(crate) fn encoded(dice: &mut Dice, fields: &[(String, String)]) -> Vec<u8> {
    let mut text = String::new();
    for (name, value) in fields {
        let part = |text: &str| {
            percent_encoding::utf8_percent_encode(text, percent_encoding::NON_ALPHANUMERIC)
                .to_string()
        };
        if !text.is_empty() {
            text.push('&');
        }
        text.push_str(&format!("{}={}", part(name), part(value)));
    }
    match dice.below(40) {
        0 => text.push_str("&a=%ff%fe"),
        1 => text.push_str("&%=%zz"),
        2 => text.truncate(dice.below(text.len() + 1)),
        _ => {}
    }
    text.into_bytes()
}

/// A batch of messages, most of them nearly right.
pub(crate) fn batch(dice: &mut Dice, known: &mut Vec<String>, day: &str, now: i64) -> String {
    let messages: Vec<String> =
        (0..dice.below(5)).map(|_| message(dice, known, day, now)).collect();
    let sent = match dice.below(12) {
        0 => dice.odd_json(),
        1 => (now - 157_680_000_000).to_string(),
        _ => now.to_string(),
    };
    let mut text = format!("{{\"sent\":{sent},\"messages\":[{}]}}", messages.join(","));
    if dice.once_in(30) {
        let end = (0..=dice.below(text.len())).rev().find(|end| text.is_char_boundary(*end));
        text.truncate(end.unwrap_or(0));
    }
    text
}

fn message(dice: &mut Dice, known: &mut Vec<String>, day: &str, now: i64) -> String {
    const KINDS: [(&str, &str); 12] = [
        ("set", r#""lift":"back squat","load":100,"unit":"kg","reps":5,"rir":2,"set_kind":"work""#),
        (
            "set",
            r#""lift":"chin-up","load":-10,"unit":"lb","reps":8,"rir":null,"set_kind":"speed""#,
        ),
        ("correct", r#""of":"ID","load":90,"unit":"kg","reps":4,"rir":null"#),
        ("undo", r#""of":"ID""#),
        ("pain", r#""joint":"knee","rating":6"#),
        ("check-in", r#""sleep_h":7.5,"stress":3,"soreness":null"#),
        ("decision", r#""lift":"back squat","call":"ease","instead":"go on""#),
        ("note", r#""text":"knees warm","lift":"back squat""#),
        ("swap", r#""lift":"leg press","with":"back squat""#),
        ("skip", r#""lift":"leg press""#),
        ("add", r#""lift":"leg press""#),
        ("finish", r#""sets":3"#),
    ];
    let (kind, rest) = *dice.of(&KINDS);
    let id = if !known.is_empty() && dice.once_in(12) { dice.of(known).clone() } else { dice.id() };
    let of = if known.is_empty() || dice.once_in(8) { dice.id() } else { dice.of(known).clone() };
    known.push(id.clone());
    let logged = now - dice.below(4_000_000) as i64;
    let mut text = format!(
        "{{\"id\":\"{id}\",\"kind\":\"{kind}\",\"day\":\"{day}\",\"logged\":{logged},{}}}",
        rest.replace("ID", &of)
    );
    match dice.below(5) {
        0 => change_a_value(dice, &mut text),
        1 => {
            text.pop();
            let (name, value) =
                (dice.of(&["when", "odd", "id", "lift", "day", "set_kind"]), dice.odd_json());
            text.push_str(&format!(",\"{name}\":{value}}}"));
        }
        _ => {}
    }
    text
}

/// Puts an odd value in the place of one of the members'.
fn change_a_value(dice: &mut Dice, text: &mut String) {
    let starts: Vec<usize> = text.match_indices("\":").map(|(at, _)| at + 2).collect();
    let start = *dice.of(&starts);
    let end = text[start..].find([',', '}']).map_or(text.len(), |length| start + length);
    text.replace_range(start..end, &dice.odd_json());
}
