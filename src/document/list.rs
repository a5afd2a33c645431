//! Lists, nested at will.

use super::Rich;

#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct List {
    pub ordered: bool,
    /// The number of the first item where they are numbered and it is not 1. What was
    /// written is what is printed: a text that begins with `30)` is about 30.
    pub first: Option<u64>,
    pub items: Vec<ListItem>,
}

#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ListItem {
    pub text: Rich,
    pub inner: Option<List>,
}

impl List {
    /// A list of plain items.
    pub fn of(ordered: bool, items: impl IntoIterator<Item = Rich>) -> List {
        List {
            ordered,
            first: None,
            items: items
                .into_iter()
                .map(|text| ListItem { text, inner: None })
                .collect(),
        }
    }

    /// The mark before item `index` (from 0).
    pub fn mark(&self, index: usize) -> String {
        if self.ordered {
            let first = self.first.unwrap_or(1);
            format!("{}.", first.saturating_add(index as u64))
        } else {
            "•".to_string()
        }
    }
}
