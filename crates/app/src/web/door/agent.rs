//! Which browser it is, in plain words, from what it says of itself (the User-Agent header, RFC 9110).
//!
//! Browsers pose as one another, so the order in which names are looked for matters. Only words from here
//! are shown or stored, never what was sent.

/// What stands in the header, and who that is; the first that is found counts.
const BROWSERS: [(&str, &str); 9] = [
    ("Edg", "Edge"),
    ("OPR/", "Opera"),
    ("SamsungBrowser/", "Samsung Internet"),
    ("Firefox/", "Firefox"),
    ("FxiOS/", "Firefox"),
    ("CriOS/", "Chrome"),
    ("Chrome/", "Chrome"),
    ("Safari/", "Safari"),
    ("curl/", "curl"),
];

/// The same for what it runs on.
const SYSTEMS: [(&str, &str); 7] = [
    ("iPhone", "an iPhone"),
    ("iPad", "an iPad"),
    ("Android", "Android"),
    ("Windows", "Windows"),
    ("Macintosh", "a Mac"),
    ("CrOS", "a Chromebook"),
    ("Linux", "Linux"),
];

/// The browser in words: `Firefox on Windows`.
pub(super) fn in_words(agent: &str) -> String {
    let find = |names: &[(&str, &'static str)]| {
        names.iter().find_map(|(part, name)| agent.contains(part).then_some(*name))
    };
    let browser = find(&BROWSERS).unwrap_or("A browser");
    match find(&SYSTEMS) {
        Some(system) => format!("{browser} on {system}"),
        None => browser.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::in_words;

    // Headers of these browsers as they commonly are, from memory.
    #[test]
    fn browsers_are_named_and_anything_else_is_a_browser() {
        for (agent, words) in [
            (
                "Mozilla/5.0 (X11; Linux x86_64; rv:128.0) Gecko/20100101 Firefox/128.0",
                "Firefox on Linux",
            ),
            (
                "Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 (KHTML, like Gecko) \
                 Chrome/126.0.0.0 Safari/537.36 Edg/126.0.0.0",
                "Edge on Windows",
            ),
            (
                "Mozilla/5.0 (Linux; Android 14) AppleWebKit/537.36 (KHTML, like Gecko) \
                 Chrome/126.0.0.0 Mobile Safari/537.36",
                "Chrome on Android",
            ),
            (
                "Mozilla/5.0 (iPhone; CPU iPhone OS 17_5 like Mac OS X) AppleWebKit/605.1.15 \
                 (KHTML, like Gecko) Version/17.5 Mobile/15E148 Safari/604.1",
                "Safari on an iPhone",
            ),
            ("<script>alert(1)</script>", "A browser"),
            ("", "A browser"),
        ] {
            assert_eq!(in_words(agent), words, "{agent}");
        }
    }
}
