//! Examples of the checks: a few lines, put into a small complete protocol.
//!
//! A line `# host NAME` says into which protocol (`arrest` without one). A
//! statement of the example takes the place of the statement that has the same
//! key, or is added. The key is the first word where the statement stands once
//! (`method`), the first two where it has a name (`rule late`), and the whole
//! statement otherwise. `# without KEY` takes statements out, all that begin so;
//! `# on DATE` is the day of the run.
//!
//! ```text
//! # without rule late
//! phase hold "Hold" {        takes the place of the host's phase `hold`
//!   …
//! }
//! ```

const HOSTS: &[(&str, &str)] = &[
    ("arrest", include_str!("hosts/arrest.protocol")),
    ("newborn", include_str!("hosts/newborn.protocol")),
    ("fever", include_str!("hosts/fever.protocol")),
    ("warming", include_str!("hosts/warming.protocol")),
    ("theatre", include_str!("hosts/theatre.protocol")),
    ("heat", include_str!("hosts/heat.protocol")),
    ("child", include_str!("hosts/child.protocol")),
    ("head-injury", include_str!("hosts/head-injury.protocol")),
];

/// Words whose statement stands once in a protocol.
const ONCE: &[&str] = &[
    "title",
    "unit",
    "version",
    "review",
    "purpose",
    "patients",
    "method",
    "timezone",
    "guideline",
    "start",
    "shifts",
    "workload",
    "show",
    "people",
];

/// Words after which a name stands.
const NAMED: &[&str] = &[
    "phase",
    "rule",
    "ladder",
    "checklist",
    "medication",
    "reading",
    "mark",
    "cite",
    "let",
    "measure",
];

/// The fingerprint that a run over an example is given.
pub const FINGERPRINT: &str = "4f1c9a7704d2b6e8";

/// The day of `# on DATE`, for examples that hang on it.
pub fn day(example: &str) -> Option<jiff::civil::Date> {
    directives(example, "on").next()?.parse().ok()
}

/// The names of the protocols that an example can be put into.
pub fn hosts() -> impl Iterator<Item = &'static str> {
    HOSTS.iter().map(|(name, _)| *name)
}

/// The whole protocol of an example; `None` if it names no host there is.
pub fn complete(example: &str) -> Option<String> {
    let host = directives(example, "host").next().unwrap_or("arrest");
    let (_, text) = HOSTS.iter().find(|(name, _)| *name == host)?;
    let (head, body) = text.split_once("{\n")?;
    let (body, _) = body.rsplit_once('}')?;
    let mut statements = split(body);
    for without in directives(example, "without") {
        statements.retain(|statement| !starts(statement, without));
    }
    for new in split(example) {
        let key = key(&new);
        let same = statements
            .iter()
            .position(|statement| self::key(statement) == key);
        match same.and_then(|at| statements.get_mut(at)) {
            Some(old) => *old = new,
            None => statements.push(new),
        }
    }
    let body: String = statements
        .iter()
        .map(|statement| format!("  {}\n", statement.trim()))
        .collect();
    Some(format!("{head}{{\n{body}}}\n"))
}

fn directives<'a>(example: &'a str, word: &'a str) -> impl Iterator<Item = &'a str> {
    example.lines().filter_map(move |line| {
        let (first, rest) = line.trim().strip_prefix("# ")?.split_once(' ')?;
        (first == word).then(|| rest.trim())
    })
}

/// Statements with their blocks and the lines on which they go on.
fn split(body: &str) -> Vec<String> {
    let mut statements: Vec<String> = Vec::new();
    let mut depth = 0i32;
    let mut in_text = false;
    let mut goes_on = false;
    for line in body.lines() {
        let bare = line.trim();
        if !in_text && (bare.is_empty() || bare.starts_with('#')) {
            continue;
        }
        let continues = in_text
            || depth > 0
            || goes_on
            || ["and ", "or ", "because ", "source ", "by \"", "until "]
                .iter()
                .any(|word| bare.starts_with(word));
        match statements.last_mut() {
            Some(last) if continues => {
                last.push('\n');
                last.push_str(line);
            }
            _ => statements.push(line.to_owned()),
        }
        for character in line.chars() {
            match character {
                '"' => in_text = !in_text,
                '{' if !in_text => depth += 1,
                '}' if !in_text => depth -= 1,
                _ => {}
            }
        }
        goes_on = !in_text && bare.ends_with(',');
    }
    statements
}

fn key(statement: &str) -> String {
    let mut words = statement.split_whitespace();
    let first = words.next().unwrap_or("");
    if ONCE.contains(&first) {
        first.to_owned()
    } else if NAMED.contains(&first) {
        format!("{first} {}", words.next().unwrap_or(""))
    } else {
        statement.split_whitespace().collect::<Vec<_>>().join(" ")
    }
}

/// Whether a statement begins with these words, whole ones.
fn starts(statement: &str, with: &str) -> bool {
    let one_space = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    one_space(statement)
        .strip_prefix(&one_space(with))
        .is_some_and(|rest| !rest.starts_with(|c: char| c.is_alphanumeric() || c == '-'))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_statement_takes_the_place_of_the_one_with_its_key() {
        let text = complete("version 9.9.9\nrule extra {\n  when core below 30.0 °C\n}\n")
            .expect("the first host");
        assert_eq!(text.matches("version").count(), 1);
        assert!(text.contains("version 9.9.9"));
        assert!(text.contains("rule extra {\n  when core below 30.0 °C\n}"));
    }

    #[test]
    fn without_takes_statements_out() {
        let text = complete("# without rule\n").expect("the first host");
        assert!(!text.contains("\n  rule "));
    }

    #[test]
    fn an_unknown_host_is_told() {
        assert_eq!(complete("# host nowhere\n"), None);
    }
}
