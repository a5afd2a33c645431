//! Text with emphasis and links: the smallest unit that every renderer draws.

/// How a run is set.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Style {
    pub bold: bool,
    pub italic: bool,
    pub code: bool,
}

/// A stretch of text in one style. `\n` is a forced line break.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Run {
    pub text: String,
    pub style: Style,
    /// Only `http`, `https` and `mailto` ever get here (see [`super::text`]).
    pub link: Option<String>,
}

/// Text with emphasis and links.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Rich(pub Vec<Run>);

impl Rich {
    /// Bold text.
    pub fn bold(text: impl Into<String>) -> Rich {
        Rich(vec![Run {
            text: text.into(),
            style: Style {
                bold: true,
                ..Style::default()
            },
            link: None,
        }])
    }

    /// This text, then more of it.
    #[must_use]
    pub fn then(mut self, more: impl Into<Rich>) -> Rich {
        self.0.extend(more.into().0);
        self
    }

    /// The words alone.
    pub fn plain(&self) -> String {
        self.0.iter().map(|run| run.text.as_str()).collect()
    }

    /// Whether there is nothing to read.
    pub fn is_empty(&self) -> bool {
        self.0.iter().all(|run| run.text.trim().is_empty())
    }

    /// The same text, all of it bold (for heads and titles).
    #[must_use]
    pub fn all_bold(&self) -> Rich {
        let mut copy = self.clone();
        for run in &mut copy.0 {
            run.style.bold = true;
        }
        copy
    }
}

impl From<&str> for Rich {
    fn from(text: &str) -> Rich {
        Rich::from(text.to_string())
    }
}

impl From<String> for Rich {
    fn from(text: String) -> Rich {
        Rich(vec![Run {
            text,
            ..Run::default()
        }])
    }
}
