//! The structure tree of the tagged PDF: what is a heading, a row, a cell.

/// A place in the tree.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct TagId(pub usize);

#[derive(Clone, Debug, PartialEq)]
pub(super) struct Tag {
    /// Standard structure type: `P`, `H1`, `TD`, …
    pub role: &'static str,
    pub parent: Option<TagId>,
    /// Said instead of a drawing.
    pub alternative: Option<String>,
    /// Columns that a cell covers, when more than one.
    pub columns: usize,
    /// A head of the cells beside it, not of those below.
    pub heads_row: bool,
}

/// All tags in the order in which they were opened: a parent before its children.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Tags(pub Vec<Tag>);

impl Tags {
    pub fn open(&mut self, role: &'static str, parent: Option<TagId>) -> TagId {
        self.0.push(Tag {
            role,
            parent,
            alternative: None,
            columns: 1,
            heads_row: false,
        });
        TagId(self.0.len() - 1)
    }

    pub fn open_with(
        &mut self,
        role: &'static str,
        parent: Option<TagId>,
        alternative: &str,
    ) -> TagId {
        let id = self.open(role, parent);
        if let Some(tag) = self.0.get_mut(id.0) {
            tag.alternative = Some(alternative.to_string());
        }
        id
    }

    /// A cell that says what the others of its row are.
    pub fn row_head(&mut self, parent: TagId) -> TagId {
        let id = self.open("TH", Some(parent));
        if let Some(tag) = self.0.get_mut(id.0) {
            tag.heads_row = true;
        }
        id
    }

    pub fn spanning(&mut self, role: &'static str, parent: TagId, columns: usize) -> TagId {
        let id = self.open(role, Some(parent));
        if let Some(tag) = self.0.get_mut(id.0) {
            tag.columns = columns;
        }
        id
    }
}
