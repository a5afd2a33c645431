//! Where blocks and statements begin and end, and what is said when they do not.

use super::*;

fn names(text: &str) -> Vec<&'static str> {
    outline(text, FileId(0))
        .diagnostics
        .iter()
        .map(|found| found.name)
        .collect()
}

fn pieces(items: &[Item], text: &str, into: &mut Vec<String>) {
    for item in items {
        match item {
            Item::Statement(piece) => into.push(text[piece.span.range()].to_owned()),
            Item::Block(block) => {
                into.push(format!("{} {{", &text[block.head.span.range()]));
                pieces(&block.items, text, into);
                into.push("}".to_owned());
            }
        }
    }
}

fn flat(text: &str) -> Vec<String> {
    let mut into = Vec::new();
    pieces(&outline(text, FileId(0)).items, text, &mut into);
    into
}

#[test]
fn a_statement_goes_on_after_a_comma_in_parentheses_and_before_and() {
    assert_eq!(
        flat("a {\n b 1,\n   2\n when (x\n  y)\n  # why\n  and z\n c\n}"),
        [
            "a {",
            "b 1,\n   2",
            "when (x\n  y)\n  # why\n  and z",
            "c",
            "}"
        ]
    );
}

#[test]
fn statements_in_one_line_of_braces() {
    assert_eq!(
        flat("rung 0 \"{None}\" { continue }"),
        ["rung 0 \"{None}\" {", "continue", "}"]
    );
}

#[test]
fn a_forgotten_brace_is_named_and_the_rest_is_read() {
    let text = "protocol p {\n phase a \"A\" {\n  x\n phase b \"B\" {\n  y\n }\n}\n";
    assert_eq!(names(text), ["missing-brace"]);
    assert_eq!(
        flat(text),
        [
            "protocol p {",
            "phase a \"A\" {",
            "x",
            "}",
            "phase b \"B\" {",
            "y",
            "}",
            "}"
        ]
    );
}

#[test]
fn the_block_that_took_the_brace_is_named() {
    // The last brace closes the phase, and the protocol seems open.
    let text = "protocol p {\n phase a \"A\" {\n cool core to 33 °C\n every 1 h record core\n}\n";
    assert_eq!(names(text), ["missing-brace"]);
    let found = outline(text, FileId::default()).diagnostics;
    assert_eq!(
        found.first().map(|found| found.title.as_str()),
        Some("`phase a \"A\"` is not closed before `every`")
    );
    // Closed as it should be, the statement is merely misplaced.
    let closed = format!("{text}}}\n");
    assert_eq!(names(&closed), [""; 0]);
}

#[test]
fn a_brace_too_many_does_not_lose_the_rest() {
    let text = "protocol p {\n phase a \"A\" {\n x\n }\n }\n phase b \"B\" {\n y\n }\n}\n";
    assert_eq!(names(text), ["missing-brace"]);
    assert_eq!(flat(text).iter().filter(|line| *line == "}").count(), 3);
}

#[test]
fn open_quotes_and_depth_are_told_once() {
    assert_eq!(names("title \"no end\nunit \"x\"\n"), ["unclosed-text"]);
    assert_eq!(
        names(&"{".repeat(1000)),
        ["brace-without-head", "nested-too-deep"]
    );
    assert_eq!(names(&"(".repeat(10_000)), ["nested-too-deep"]);
}

#[test]
fn an_open_text_does_not_take_what_follows() {
    let text = "protocol p {\n caution \"\"\"\n  No end\n\n phase a \"A\" {\n  x\n }\n y\n}\n";
    assert_eq!(names(text), ["unclosed-text"]);
    assert_eq!(
        flat(text),
        ["protocol p {", "phase a \"A\" {", "x", "}", "y", "}"]
    );
    let last = "protocol p {\n title \"\"\"\n  No end\n}\n";
    assert_eq!(names(last), ["unclosed-text"]);
    assert_eq!(flat(last), ["protocol p {", "}"]);
    assert_eq!(names("title \"\"\"\n no end"), ["unclosed-text"]);
}
