//! Protocols of which every free text carries something more.

/// Every text in quotes of `file` with `text` after it.
#[allow(dead_code)] // not every test needs it
pub fn file(file: &str, text: &str) -> String {
    each(file, &|own| format!("{own} {text}"))
}

/// Every text in quotes of `file` as `change` makes it.
pub fn each(file: &str, change: &dyn Fn(&str) -> String) -> String {
    file.lines().map(|one| line(one, change)).collect()
}

fn line(line: &str, change: &dyn Fn(&str) -> String) -> String {
    let line = line.trim_end();
    let first = line.split_whitespace().next().unwrap_or_default();
    // These name things outside the text: a file, a zone, a time.
    if matches!(first, "use" | "timezone" | "#") {
        return format!("{line}\n");
    }
    let parts: Vec<&str> = line.split('"').collect();
    let mut out = String::new();
    for (at, part) in parts.iter().enumerate() {
        if at > 0 {
            out.push('"');
        }
        if at % 2 == 1 && parts.len() > at + 1 {
            let changed = change(part).replace('\\', "\\\\").replace('"', "\\\"");
            out.push_str(&changed);
        } else {
            out.push_str(part);
        }
    }
    out.push('\n');
    out
}
