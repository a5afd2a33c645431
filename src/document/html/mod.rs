//! One self-contained HTML page: no script, no network, made to be printed too.
//!
//! Takes: a [`Document`]. Returns: the page. Nothing can go wrong: every text is escaped, every
//! address was checked when it was read (see [`super::text`]). Meaning is never in a colour:
//! the due, the not due and the caution carry a word or a sign.

mod blocks;
mod svg;
mod tables;

use super::{Document, Paper};
use crate::diag::steers;

const STYLE: &str = include_str!("style.css");

/// The whole page.
pub fn render(document: &Document) -> String {
    let mut out = String::new();
    out.push_str("<!DOCTYPE html>\n");
    push(
        &mut out,
        &format!("<html lang=\"{}\">\n<head>\n", escape(&document.language)),
    );
    out.push_str("<meta charset=\"utf-8\">\n");
    out.push_str("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n");
    push(
        &mut out,
        &format!("<title>{}</title>\n", escape(&document.title)),
    );
    push(
        &mut out,
        &format!("<style>\n{STYLE}{}</style>\n", page_style(document)),
    );
    out.push_str("</head>\n<body>\n");
    if let Some(mark) = &document.draft {
        push(
            &mut out,
            &format!(
                "<p class=\"across\" aria-hidden=\"true\">{}</p>\n",
                escape(mark)
            ),
        );
    }
    masthead(&mut out, document);
    out.push_str("<main>\n");
    blocks::blocks(&mut out, &document.blocks);
    out.push_str("</main>\n");
    footer(&mut out, document);
    out.push_str("</body>\n</html>\n");
    out
}

fn push(out: &mut String, text: &str) {
    out.push_str(text);
}

/// Text as text: nothing in it is read as markup, or turns the direction of what is beside it.
pub(crate) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            other if steers(other) => out.push('\u{fffd}'),
            other => out.push(other),
        }
    }
    out
}

/// Paper, and the footer of each printed page, as style: only a style can say it.
fn page_style(document: &Document) -> String {
    let paper = match document.paper {
        Paper::A4 => "A4",
        Paper::Letter => "letter",
    };
    let foot: Vec<String> = document
        .footer
        .lines
        .iter()
        .map(|line| css_text(line))
        .collect();
    let foot = if foot.is_empty() {
        "\"\"".to_string()
    } else {
        foot.join(" \"\\a \" ")
    };
    let code = svg::code_address(&document.footer.code)
        .map(|address| {
            format!("\n  @bottom-right {{ content: url(\"{address}\"); width: 20mm; text-align: right; }}")
        })
        .unwrap_or_default();
    format!(
        "@page {{ size: {paper}; margin: 10mm 10mm 22mm 16mm;\n  \
         @bottom-left {{ content: \"Page \" counter(page) \" of \" counter(pages) \" · \" {foot}; \
         white-space: pre-wrap; font: 9pt/1.2 \"Source Sans 3\", sans-serif; text-align: left; width: 85%; }}{code} }}\n"
    )
}

/// A quoted CSS string; whatever could end it or the style element is written as a code.
fn css_text(text: &str) -> String {
    let mut out = String::from("\"");
    for character in text.chars() {
        if character.is_alphanumeric() || " .,:;-–+/()°·%".contains(character) {
            out.push(character);
        } else {
            out.push_str(&format!("\\{:x} ", u32::from(character)));
        }
    }
    out.push('"');
    out
}

fn masthead(out: &mut String, document: &Document) {
    out.push_str("<header>\n");
    if let Some(mark) = &document.draft {
        push(out, &format!("<p class=\"draft\">{}</p>\n", escape(mark)));
    }
    out.push_str("<div>\n");
    push(out, &format!("<h1>{}</h1>\n", escape(&document.title)));
    if !document.subtitle.is_empty() {
        push(
            out,
            &format!("<p class=\"subtitle\">{}</p>\n", escape(&document.subtitle)),
        );
    }
    if !document.facts.is_empty() {
        blocks::key_values(out, &document.facts);
    }
    out.push_str("</div>\n");
    if let Some(caption) = &document.label {
        push(
            out,
            &format!("<div class=\"label\">{}</div>\n", escape(caption)),
        );
    }
    out.push_str("</header>\n");
}

fn footer(out: &mut String, document: &Document) {
    out.push_str("<footer>\n<div>\n");
    for line in &document.footer.lines {
        push(out, &format!("<p>{}</p>\n", escape(line)));
    }
    out.push_str("</div>\n");
    svg::code(out, &document.footer.code);
    out.push_str("</footer>\n");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_cannot_become_markup_or_style() {
        assert_eq!(
            escape("<a href='x'>&\"</a>"),
            "&lt;a href=&#39;x&#39;&gt;&amp;&quot;&lt;/a&gt;"
        );
        assert_eq!(escape("a\u{202e}b\u{1b}\tc\n"), "a\u{fffd}b\u{fffd}\tc\n");
        let css = css_text("a\"; } </style><script>");
        assert_eq!(css.matches('"').count(), 2, "{css}");
        assert!(!css.contains('<') && !css.contains('}'), "{css}");
    }
}
