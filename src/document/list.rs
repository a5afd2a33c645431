//! Lists, nested at will.

use super::Rich;

#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct List {
    /// Numbered from 1.
    pub ordered: bool,
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
            items: items
                .into_iter()
                .map(|text| ListItem { text, inner: None })
                .collect(),
        }
    }

    /// The mark before item `index` (from 0).
    pub fn mark(&self, index: usize) -> String {
        if self.ordered {
            format!("{}.", index + 1)
        } else {
            "•".to_string()
        }
    }
}
