//! CommonMark from the quoted texts of a protocol, as runs or blocks.
//!
//! Takes: a text as the committee wrote it. Returns: [`Rich`] ([`inline`]) or blocks
//! ([`blocks`]). Nothing can go wrong: raw HTML is text like any other, pictures become their
//! description, a link of any other scheme than `http`, `https` or `mailto` loses its address.
//! A link's address is printed after its words, because paper cannot be clicked.

use super::{Block, List, ListItem, Rich, Run, Style, line_start};
use pulldown_cmark::{Event, Options, Parser, Tag, TagEnd};

/// The text as one line of runs: paragraphs and list items follow each other.
///
/// A sign that begins a line is printed as it stands, since `- 0.5`, `> 30` or `2) x` read as
/// markup would lose a minus, a comparison or a number ([`super::line_start`]).
pub fn inline(source: &str) -> Rich {
    let mark = line_start::unused(source);
    let mut out = Rich::default();
    for block in read(&line_start::shield(source, mark), Some(mark)) {
        if !out.0.is_empty() {
            out.0.push(plain_run(" "));
        }
        match block {
            Block::Paragraph(text) => out.0.extend(text.0),
            Block::List(list) => flatten(&list, &mut out),
            _ => {}
        }
    }
    out
}

/// The text as paragraphs and lists.
pub fn blocks(source: &str) -> Vec<Block> {
    read(source, None)
}

/// `unseen` is no part of the text and is never printed.
fn read(source: &str, unseen: Option<char>) -> Vec<Block> {
    let mut reader = Reader {
        unseen,
        ..Reader::default()
    };
    for event in Parser::new_ext(source, Options::empty()) {
        reader.event(event);
    }
    reader.end_paragraph();
    reader.done
}

fn flatten(list: &List, out: &mut Rich) {
    for (index, item) in list.items.iter().enumerate() {
        let space = if index == 0 { "" } else { " " };
        out.0
            .push(plain_run(&format!("{space}{} ", list.mark(index))));
        out.0.extend(item.text.0.iter().cloned());
        if let Some(inner) = &item.inner {
            out.0.push(plain_run(" "));
            flatten(inner, out);
        }
    }
}

fn plain_run(text: &str) -> Run {
    Run {
        text: text.to_string(),
        ..Run::default()
    }
}

fn safe(address: &str) -> bool {
    let lower = address.to_ascii_lowercase();
    ["http://", "https://", "mailto:"]
        .iter()
        .any(|scheme| lower.starts_with(scheme))
}

#[derive(Default)]
struct Reader {
    unseen: Option<char>,
    done: Vec<Block>,
    lists: Vec<List>,
    text: Vec<Run>,
    style: Style,
    link: Option<String>,
    /// Where the words of the open link begin in `text`.
    link_from: usize,
}

impl Reader {
    fn event(&mut self, event: Event) {
        match event {
            Event::Start(tag) => self.start(tag),
            Event::End(tag) => self.end(tag),
            Event::Text(text) | Event::Html(text) | Event::InlineHtml(text) => self.push(&text),
            Event::Code(text) => {
                self.style.code = true;
                self.push(&text);
                self.style.code = false;
            }
            Event::SoftBreak => self.push(" "),
            Event::HardBreak => self.push("\n"),
            // The extensions that make these are switched off; a rule has no words.
            Event::InlineMath(text) | Event::DisplayMath(text) | Event::FootnoteReference(text) => {
                self.push(&text);
            }
            Event::Rule | Event::TaskListMarker(_) => {}
        }
    }

    fn push(&mut self, text: &str) {
        let text = match self.unseen {
            Some(unseen) => text.replace(unseen, ""),
            None => text.to_string(),
        };
        if text.is_empty() {
            return;
        }
        self.text.push(Run {
            text,
            style: self.style,
            link: self.link.clone(),
        });
    }

    fn start(&mut self, tag: Tag) {
        match tag {
            Tag::Strong => self.style.bold = true,
            Tag::Emphasis => self.style.italic = true,
            Tag::Heading { .. } => {
                self.end_paragraph();
                self.style.bold = true;
            }
            Tag::Link { dest_url, .. } => {
                self.link_from = self.text.len();
                self.link = safe(&dest_url).then(|| dest_url.to_string());
            }
            Tag::CodeBlock(_) => {
                self.end_paragraph();
                self.style.code = true;
            }
            Tag::List(first) => {
                self.end_item_text();
                self.lists.push(List {
                    ordered: first.is_some(),
                    first: first.filter(|first| *first != 1),
                    items: Vec::new(),
                });
            }
            Tag::Item => {
                if let Some(list) = self.lists.last_mut() {
                    list.items.push(ListItem::default());
                }
            }
            Tag::Paragraph | Tag::HtmlBlock => {
                if self.lists.is_empty() {
                    self.end_paragraph();
                } else if self.has_item_text() {
                    self.push("\n");
                }
            }
            _ => {}
        }
    }

    fn end(&mut self, tag: TagEnd) {
        match tag {
            TagEnd::Strong => self.style.bold = false,
            TagEnd::Emphasis => self.style.italic = false,
            TagEnd::Heading(_) => {
                self.style.bold = false;
                self.end_paragraph();
            }
            TagEnd::CodeBlock => {
                self.style.code = false;
                self.end_paragraph();
            }
            TagEnd::Link => self.end_link(),
            TagEnd::Paragraph | TagEnd::HtmlBlock => self.end_paragraph(),
            TagEnd::Item => self.end_item_text(),
            TagEnd::List(_) => self.end_list(),
            _ => {}
        }
    }

    fn end_link(&mut self) {
        let Some(address) = self.link.take() else {
            return;
        };
        let words: String = self
            .text
            .iter()
            .skip(self.link_from)
            .map(|run| run.text.as_str())
            .collect();
        let bare = address.trim_start_matches("mailto:");
        if words != bare && words != address {
            self.push(&format!(" ({bare})"));
        }
    }

    fn has_item_text(&self) -> bool {
        !self.text.is_empty()
            || self
                .lists
                .last()
                .and_then(|list| list.items.last())
                .is_some_and(|item| !item.text.0.is_empty())
    }

    /// Moves what was read into the open item or, outside lists, into a paragraph.
    fn end_paragraph(&mut self) {
        if self.lists.is_empty() {
            let text = Rich(std::mem::take(&mut self.text));
            if !text.is_empty() {
                self.done.push(Block::Paragraph(text));
            }
        } else {
            self.end_item_text();
        }
    }

    fn end_item_text(&mut self) {
        let text = std::mem::take(&mut self.text);
        if let Some(item) = self.lists.last_mut().and_then(|list| list.items.last_mut()) {
            item.text.0.extend(text);
        } else if !text.is_empty() {
            self.done.push(Block::Paragraph(Rich(text)));
        }
    }

    fn end_list(&mut self) {
        let Some(list) = self.lists.pop() else {
            return;
        };
        match self
            .lists
            .last_mut()
            .and_then(|outer| outer.items.last_mut())
        {
            Some(item) => match &mut item.inner {
                Some(inner) => inner.items.extend(list.items),
                none => *none = Some(list),
            },
            None => self.done.push(Block::List(list)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn emphasis_and_links_are_kept_and_addresses_are_printed() {
        let rich = inline("Give **slowly**, *never* fast; see [the table](https://example.org/t).");
        assert_eq!(
            rich.plain(),
            "Give slowly, never fast; see the table (https://example.org/t)."
        );
        let bold: Vec<&str> = rich
            .0
            .iter()
            .filter(|run| run.style.bold)
            .map(|run| run.text.as_str())
            .collect();
        assert_eq!(bold, ["slowly"]);
    }

    #[test]
    fn raw_html_is_text_and_other_schemes_lose_their_address() {
        let rich = inline("a <b>c</b> [x](javascript:alert) <script>alert(1)</script>");
        assert_eq!(rich.plain(), "a <b>c</b> x <script>alert(1)</script>");
        assert!(rich.0.iter().all(|run| run.link.is_none()));
    }

    #[test]
    fn a_number_that_begins_a_text_is_printed_as_it_was_written() {
        assert_eq!(inline("30. minutes").plain(), "30. minutes");
        assert_eq!(inline("30) minutes").plain(), "30) minutes");
        assert_eq!(inline("3. one\n5. two").plain(), "3. one 5. two");
        let deep = inline("1. one\n   7. seven\n2. two");
        assert_eq!(deep.plain(), "1. one 7. seven 2. two");
    }

    #[test]
    fn a_nested_list_stays_nested() {
        let found = blocks("Before:\n\n1. one\n   - deep\n   - deeper\n2. two\n\nAfter");
        let [
            Block::Paragraph(before),
            Block::List(list),
            Block::Paragraph(after),
        ] = &found[..]
        else {
            panic!("{found:?}");
        };
        assert_eq!(
            (before.plain(), after.plain()),
            ("Before:".into(), "After".into())
        );
        assert!(list.ordered);
        assert_eq!(list.items.len(), 2);
        let inner = list.items[0].inner.as_ref().expect("inner list");
        assert_eq!(inner.items[1].text.plain(), "deeper");
        assert_eq!(inline("- a\n- b").plain(), "• a • b");
    }
}
