//! The two highlighting grammars know every word and unit that the language has.

use std::collections::BTreeSet;

/// Words in quotes in the grammar, but for the ends of character ranges.
fn words() -> BTreeSet<String> {
    let grammar: String = include_str!("../grammar/protocol.pest")
        .lines()
        .map(|line| line.split("//").next().unwrap_or(""))
        .collect::<Vec<_>>()
        .join("\n");
    let words: BTreeSet<String> = grammar
        .split('"')
        .filter(|text| text.len() > 1 && text.bytes().all(|byte| byte.is_ascii_lowercase()))
        .map(str::to_owned)
        .collect();
    assert!(words.len() > 100, "the grammar's words were found");
    words
}

fn parts(text: &str, separators: &[char]) -> BTreeSet<String> {
    text.split(|character: char| separators.contains(&character) || character.is_whitespace())
        .map(str::to_owned)
        .collect()
}

#[test]
fn the_textmate_grammar_knows_every_word_and_unit() {
    let text = include_str!("../grammar/protocol.tmLanguage.json");
    let grammar: serde_json::Value = serde_json::from_str(text).expect("valid JSON");
    let part = |name: &str| {
        grammar["repository"][name]["match"]
            .as_str()
            .expect("a pattern")
            .to_owned()
    };
    let all = ["block", "order", "word"].map(part).join("|");
    let known = parts(&all, &['|', '(', ')']);
    for word in words() {
        assert!(known.contains(&word), "`{word}` is not highlighted");
    }
    let units = parts(&part("quantity"), &['|', '(', ')']);
    for unit in tempwright::quantity::UNITS {
        assert!(
            units.contains(unit.name),
            "`{}` is no unit there",
            unit.name
        );
    }
}

#[test]
fn the_vim_syntax_knows_every_word_and_unit() {
    let text = include_str!("../grammar/protocol.vim");
    let keywords: BTreeSet<String> = text
        .lines()
        .filter_map(|line| line.strip_prefix("syntax keyword "))
        .flat_map(|line| line.split(' ').skip(1).map(str::to_owned))
        .collect();
    for word in words() {
        assert!(keywords.contains(&word), "`{word}` is not highlighted");
    }
    let units = text
        .lines()
        .find(|line| line.starts_with("syntax match protocolUnit"))
        .expect("units")
        .replace("\\/", "/")
        .replace("\\|", "|")
        .replace("\\%(", "|")
        .replace("\\)", "|");
    let units = parts(&units, &['|']);
    for unit in tempwright::quantity::UNITS {
        assert!(
            units.contains(unit.name),
            "`{}` is no unit there",
            unit.name
        );
    }
}
