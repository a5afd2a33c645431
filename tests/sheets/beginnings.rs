//! What a text begins with is printed as it was written, in all three forms: `- 0.5` in an order
//! is minus a half, and never the bullet of a list.

use crate::forms::folder;
use crate::outside;
use crate::printed::print;
use crate::support::{library, protocol};
use pulldown_cmark::{Event, Options, Parser, Tag};
use tempwright::document::{Document, Paper, html, markdown, pdf};
use tempwright::plan::Case;

/// Signs that Markdown would read at the beginning of a line.
const BEGINNINGS: [&str; 20] = [
    "- 30",
    "+ 30",
    "* 30",
    "- 0.5",
    "> 30",
    ">",
    "#",
    "### 3",
    "1) 3",
    "30. of",
    "007) 7",
    "---",
    "***",
    "- - -",
    "___",
    "===",
    "~~~",
    "[3]: 4 of",
    "<div> 3",
    "&lt; 3",
];

/// Where a text can stand; each is told by a word of its own.
const PLACES: [&str; 7] = [
    "unitword",
    "orderword",
    "stepword",
    "cautionword",
    "includeword",
    "rungword",
    "roleword",
];

/// A sheet of which the text at each place begins otherwise, and these beginnings.
fn sheet(nth: usize) -> (Document, Vec<&'static str>) {
    let begins: Vec<&str> = (0..PLACES.len())
        .map(|place| BEGINNINGS[(nth + 3 * place) % BEGINNINGS.len()])
        .collect();
    let path = "protocols/adult-arrest-33.protocol";
    let mut library = library();
    let text = |at: usize| format!("{} {}", begins[at], PLACES[at]);
    let file = library.files.get_mut(path).expect("the demo");
    let unit = file.find("unit ").expect("a unit");
    let line = file[unit..].find('\n').expect("its end") + unit;
    let rule = format!(
        "unit \"{}\"\n  caution \"{}\"\n  include \"{}\"\n  \
         rule begins-so {{\n    when core above 38.9 °C during hold\n    then do \"{}\"\n    \
         then follow begins-ladder\n    then call tester now\n  }}\n  \
         ladder begins-ladder \"Steps\" on core until below 38.0 °C {{\n    step \"{}\" {{ call tester now }}\n  }}\n  \
         checklist begins-list \"List\" at trouble {{\n    step \"{}\"\n  }}",
        text(0),
        text(3),
        text(4),
        text(1),
        text(5),
        text(2),
    );
    file.replace_range(unit..line, &rule);
    let people = file.find("people {").expect("people") + "people {".len();
    file.insert_str(people, &format!("\n    tester \"{}\"", text(6)));
    let document = print(&protocol(&library, path), &Case::default(), Paper::A4);
    (document, begins)
}

fn packed(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace()).collect()
}

/// The words of the Markdown as a reader of it has them.
fn words_of_markdown(out: &str) -> String {
    let mut words = String::new();
    for event in Parser::new_ext(out, Options::ENABLE_TABLES) {
        match event {
            Event::Text(text) | Event::Code(text) => words.push_str(&text),
            // A quotation or list of the sheet's own is there without the text too.
            Event::Start(Tag::CodeBlock(_)) => panic!("a text became code: {out}"),
            _ => {}
        }
    }
    packed(&words)
}

fn words_of_html(page: &str) -> String {
    let body = page.split_once("<body").expect("a body").1;
    let mut words = String::new();
    for part in body.split('<').skip(1) {
        words.push_str(part.split_once('>').map_or("", |(_, text)| text));
    }
    packed(
        &words
            .replace("&lt;", "<")
            .replace("&gt;", ">")
            .replace("&quot;", "\"")
            .replace("&amp;", "&"),
    )
}

/// Every place of the text is there, with its beginning.
fn assert_begins(words: &str, begins: &[&str], form: &str) {
    for (place, beginning) in PLACES.iter().zip(begins) {
        // The other sign is what the protocol's Markdown means by `&lt;`.
        let beginning = packed(&beginning.replace("&lt;", "<"));
        let mut seen = 0;
        for (at, _) in words.match_indices(place) {
            let before = &words[..at];
            assert!(
                before.ends_with(&beginning),
                "{form}: `{beginning}` before {place}: …{}",
                before
                    .chars()
                    .rev()
                    .take(20)
                    .collect::<Vec<_>>()
                    .iter()
                    .rev()
                    .collect::<String>()
            );
            // Nor a bullet or number more.
            let more = before[..before.len() - beginning.len()].chars().next_back();
            if *place == "orderword" && form == "html" {
                assert!(
                    !matches!(more, Some('•' | '-')),
                    "{form}: {more:?} before {beginning}"
                );
            }
            seen += 1;
        }
        assert!(seen > 0, "{form}: {place} is not printed");
    }
}

#[test]
fn a_text_is_printed_with_what_it_begins_with_in_all_three_forms() {
    let folder = folder("beginnings");
    for nth in 0..BEGINNINGS.len() {
        let (document, begins) = sheet(nth);
        assert_begins(&words_of_html(&html::render(&document)), &begins, "html");
        assert_begins(
            &words_of_markdown(&markdown::render(&document)),
            &begins,
            "markdown",
        );
        // A PDF takes much longer; in these each beginning stands somewhere.
        if nth > 2 {
            continue;
        }
        let path = folder.join(format!("{nth}.pdf"));
        std::fs::write(&path, pdf::render(&document).expect("a PDF")).expect("written");
        let path = path.display().to_string();
        let Some(tree) = outside::program("pdfinfo", &["-struct-text", &path]) else {
            continue;
        };
        let words: String = tree.split('"').skip(1).step_by(2).collect();
        assert_begins(&packed(&words), &begins, "pdf");
    }
}
