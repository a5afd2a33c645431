//! Stacks pieces on pages, and says where every text stands.

use super::PdfError;
use super::columns::Run;
use super::fonts::Fonts;
use super::frame::{self, Geometry};
use super::galley::{Draw, Piece};
use super::mm;
use super::setter::Setter;
use super::tags::{TagId, Tags};
use crate::document::shape::{Anchor, Shape};
use crate::document::{Document, qr};
use std::rc::Rc;

/// The whole document, placed.
#[derive(Clone, Debug, Default)]
pub struct Layout {
    pub(super) pages: Vec<Vec<Draw>>,
    pub(super) tags: Tags,
    /// Level, words and page (from 0) of every heading.
    pub(super) headings: Vec<(u8, String, usize)>,
    pub(super) width: f64,
    pub(super) height: f64,
    texts: Vec<PlacedText>,
}

/// What a text is there for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TextRole {
    Body,
    /// Strip and footer, repeated heads.
    Frame,
}

/// A text and the box that it fills, in points from the top left corner of its page.
#[derive(Clone, Debug, PartialEq)]
pub struct PlacedText {
    /// Counted from 1.
    pub page: usize,
    pub x: f64,
    pub y: f64,
    pub width: f64,
    pub height: f64,
    pub size: f64,
    pub role: TextRole,
    pub text: String,
}

/// A line that is drawn, an edge of a frame among them, and the box that its ink fills, in points
/// from the top left corner of its page.
#[derive(Clone, Debug, PartialEq)]
pub struct PlacedRule {
    /// Counted from 1.
    pub page: usize,
    pub x: f64,
    pub y: f64,
    pub width: f64,
    pub height: f64,
}

impl Layout {
    pub fn page_count(&self) -> usize {
        self.pages.len()
    }

    /// Each part of the document: its heading, its first page and its last, counted from 1.
    pub fn parts(&self) -> Vec<(&str, usize, usize)> {
        let heads: Vec<(&str, usize)> = self
            .headings
            .iter()
            .filter(|(level, _, _)| *level == 1)
            .map(|(_, title, page)| (title.as_str(), page + 1))
            .collect();
        // What stands first on a page leaves nothing of the part before on it.
        let first_on = |title: &str, page: usize| {
            self.texts
                .iter()
                .find(|text| text.page == page && text.role == TextRole::Body)
                .is_some_and(|text| title.starts_with(text.text.trim()))
        };
        heads
            .iter()
            .enumerate()
            .map(|(index, (title, first))| {
                let last = match heads.get(index + 1) {
                    Some((next, page)) if page > first && first_on(next, *page) => page - 1,
                    Some((_, page)) => *page,
                    None => self.page_count(),
                };
                (*title, *first, last)
            })
            .collect()
    }

    /// Width and height of the paper in points.
    pub fn paper(&self) -> (f64, f64) {
        (self.width, self.height)
    }

    /// Every text, page by page. The draft mark is not among them: it lies under all others.
    pub fn texts(&self) -> &[PlacedText] {
        &self.texts
    }

    /// Every level or upright line, dashed ones and the edges of frames too, page by page. What
    /// slants, a course on the chart, fills no box.
    pub fn rules(&self) -> Vec<PlacedRule> {
        let mut out = Vec::new();
        for (index, page) in self.pages.iter().enumerate() {
            let lines = page.iter().flat_map(|draw| lines(&draw.shape));
            for (from, to, thickness) in
                lines.filter(|(from, to, _)| from.0 == to.0 || from.1 == to.1)
            {
                let half = thickness / 2.0;
                out.push(PlacedRule {
                    page: index + 1,
                    x: from.0.min(to.0) - half,
                    y: from.1.min(to.1) - half,
                    width: (to.0 - from.0).abs() + thickness,
                    height: (to.1 - from.1).abs() + thickness,
                });
            }
        }
        out
    }
}

pub(super) fn paginate(document: &Document, fonts: &Fonts) -> Result<Layout, PdfError> {
    let geometry = Geometry::of(document.paper);
    let mut setter = Setter {
        fonts,
        tags: Tags::default(),
        page: geometry.bottom - geometry.top - frame::strip_height(),
    };
    let root = setter.tags.open("Document", None);
    let mut pieces = vec![frame::masthead(
        &mut setter,
        document,
        geometry.measure,
        root,
    )?];
    pieces.extend(setter.blocks(&document.blocks, geometry.measure, root)?);

    let mut builder = Builder::of(geometry, true);
    builder.place_all(&pieces, document, fonts)?;
    if builder.whole_lists > 0 {
        // A list stays whole where that takes no page more.
        let mut cut = Builder::of(geometry, false);
        cut.place_all(&pieces, document, fonts)?;
        if cut.pages.len() < builder.pages.len() {
            builder = cut;
        }
    }
    let footer = frame::Footer {
        document,
        code: qr::modules(&document.footer.code),
        pages: builder.pages.len(),
        width: geometry.measure,
    };
    for (index, page) in builder.pages.iter_mut().enumerate() {
        let foot = frame::footer(&mut setter, &footer, index + 1)?;
        page.extend(foot.into_iter().map(|draw| Draw {
            shape: draw.shape.moved(geometry.left, geometry.bottom),
            tag: draw.tag,
        }));
    }
    let mut layout = Layout {
        pages: builder.pages,
        tags: setter.tags,
        headings: builder.headings,
        width: geometry.width,
        height: geometry.height,
        texts: Vec::new(),
    };
    layout.texts = texts(&layout.pages, fonts)?;
    Ok(layout)
}

struct Builder {
    geometry: Geometry,
    pages: Vec<Vec<Draw>>,
    /// The part (level 1) that is running.
    part: String,
    headings: Vec<(u8, String, usize)>,
    y: f64,
    empty: bool,
    /// What the rest of the page is filled with.
    filler: Option<Rc<Piece>>,
    /// Whether a short list goes to the next page rather than over its end, and how many did.
    keeps_lists: bool,
    whole_lists: usize,
}

impl Builder {
    fn of(geometry: Geometry, keeps_lists: bool) -> Builder {
        Builder {
            geometry,
            pages: vec![Vec::new()],
            part: String::new(),
            headings: Vec::new(),
            y: geometry.top,
            empty: true,
            filler: None,
            keeps_lists,
            whole_lists: 0,
        }
    }

    fn place_all(
        &mut self,
        pieces: &[Piece],
        document: &Document,
        fonts: &Fonts,
    ) -> Result<(), PdfError> {
        let mut rest = pieces.iter().cloned();
        while let Some(piece) = rest.next() {
            let mut group = vec![piece];
            while group.last().is_some_and(|piece| piece.keep) {
                match rest.next() {
                    Some(piece) => group.push(piece),
                    None => break,
                }
            }
            self.place(group, document, fonts)?;
        }
        self.fill();
        Ok(())
    }

    fn place(
        &mut self,
        group: Vec<Piece>,
        document: &Document,
        fonts: &Fonts,
    ) -> Result<(), PdfError> {
        let group = self.parted(group, document, fonts)?;
        if group.is_empty() {
            return Ok(());
        }
        let height: f64 = group.iter().map(|piece| piece.gap + piece.height).sum();
        let breaks = group.iter().any(|piece| piece.break_before);
        let fits = self.y + height <= self.geometry.bottom;
        if !self.empty && (breaks || !fits) {
            self.new_page(group.first(), document, fonts)?;
        }
        for piece in group {
            let gap = if self.empty { 0.0 } else { piece.gap };
            if self.y + gap + piece.height > self.geometry.bottom + 0.01 {
                // A group taller than a page is broken inside; a piece never is.
                if !self.empty {
                    self.new_page(Some(&piece), document, fonts)?;
                }
                if self.y + piece.height > self.geometry.bottom + 0.01 {
                    return Err(PdfError::DoesNotFit {
                        what: words(&piece),
                    });
                }
                self.put(piece, 0.0);
            } else {
                self.put(piece, gap);
            }
        }
        Ok(())
    }

    /// Two halves that do not fit begin in the rest of the page, where it is worth it. Returns what
    /// is left to place.
    fn parted(
        &mut self,
        mut group: Vec<Piece>,
        document: &Document,
        fonts: &Fonts,
    ) -> Result<Vec<Piece>, PdfError> {
        const WORTH: f64 = 45.0;
        let height: f64 = group.iter().map(|piece| piece.gap + piece.height).sum();
        let room = self.geometry.bottom - self.y;
        let Some(run) = group.last().and_then(|piece| piece.run.clone()) else {
            return Ok(group);
        };
        let before = height - group.last().map_or(0.0, |piece| piece.height);
        let page = self.geometry.bottom - self.geometry.top - frame::strip_height();
        if height <= room {
            self.part_between_lists(&mut group, &run, room - before);
            return Ok(group);
        }
        let whole = match self.keeps_lists {
            true => run.clone().part_before_list(room - before, page),
            false => None,
        };
        let whole = whole.filter(|(part, _)| part.height >= mm(WORTH));
        self.whole_lists += usize::from(whole.is_some());
        let (part, rest) = whole.unwrap_or_else(|| run.clone().part(room - before));
        if rest.is_empty() || part.height < mm(WORTH) || part.height > room - before {
            self.part_between_lists(&mut group, &run, page - before);
            return Ok(group);
        }
        let gap = group.pop().map_or(0.0, |piece| piece.gap);
        for piece in group {
            let gap = if self.empty { 0.0 } else { piece.gap };
            self.put(piece, gap);
        }
        self.put(part, gap);
        let mut left = Vec::new();
        let mut later = rest.clone();
        while !later.is_empty() {
            let (piece, more) = later.part(page);
            left.push(piece);
            later = more;
        }
        self.new_page(left.first(), document, fonts)?;
        if left.len() == 1 {
            self.part_between_lists(&mut left, &rest, page);
        }
        Ok(left)
    }

    /// The two halves that end this group, parted between lists where that can be.
    fn part_between_lists(&mut self, group: &mut [Piece], run: &Run, room: f64) {
        let found = match self.keeps_lists {
            true => run.parted_between_lists(room),
            false => None,
        };
        if let (Some(found), Some(last)) = (found, group.last_mut()) {
            self.whole_lists += 1;
            last.height = found.height;
            last.headings = found.headings;
            last.captioned = found.captioned;
            last.draws = found.draws;
        }
    }

    fn new_page(
        &mut self,
        first: Option<&Piece>,
        document: &Document,
        fonts: &Fonts,
    ) -> Result<(), PdfError> {
        // A page that a new part opens carries that part's name, and one that a table with a
        // caption opens says what stands there.
        let opens = first.and_then(|piece| piece.headings.first());
        let is_captioned = first.is_some_and(|piece| {
            piece.captioned || piece.head.as_ref().is_some_and(|head| head.captioned)
        });
        let part = match opens {
            Some((1, _, _)) => String::new(),
            _ if is_captioned || self.part.is_empty() => String::new(),
            _ => format!("{}{}", self.part, frame::CONTINUED),
        };
        self.fill();
        self.pages.push(Vec::new());
        self.y = self.geometry.top;
        let strip = frame::strip(fonts, document, &part, self.geometry.measure)?;
        self.put(strip, 0.0);
        if let Some(head) = first.and_then(|piece| piece.head.clone()) {
            self.put(head.as_ref().clone(), 0.0);
        }
        self.empty = true;
        Ok(())
    }

    /// More rows to write on, down to the foot of the page.
    fn fill(&mut self) {
        while let Some(filler) = self.filler.clone() {
            if self.y + filler.height > self.geometry.bottom {
                self.filler = None;
                return;
            }
            self.put(filler.as_ref().clone(), 0.0);
            self.filler = Some(filler);
        }
    }

    fn put(&mut self, piece: Piece, gap: f64) {
        let page = self.pages.len() - 1;
        for (level, text, _) in &piece.headings {
            if *level == 1 {
                self.part.clone_from(text);
            }
            self.headings.push((*level, text.clone(), page));
        }
        self.filler.clone_from(&piece.filler);
        self.y += gap;
        let height = piece.height;
        let placed = piece.moved(self.geometry.left, self.y);
        if let Some(page) = self.pages.last_mut() {
            page.extend(placed.draws);
        }
        self.y += height;
        self.empty = false;
    }
}

/// From where to where, and how thick.
type Stroke = ((f64, f64), (f64, f64), f64);

/// The lines of a shape.
fn lines(shape: &Shape) -> Vec<Stroke> {
    match *shape {
        Shape::Line {
            from,
            to,
            thickness,
            ..
        } => vec![(from, to, thickness)],
        Shape::Rect {
            x,
            y,
            width,
            height,
            frame: Some(thickness),
            ..
        } => {
            let (right, foot) = (x + width, y + height);
            vec![
                ((x, y), (right, y), thickness),
                ((x, foot), (right, foot), thickness),
                ((x, y), (x, foot), thickness),
                ((right, y), (right, foot), thickness),
            ]
        }
        _ => Vec::new(),
    }
}

/// The first words of a piece, to name it in an error.
fn words(piece: &Piece) -> String {
    let texts: Vec<&str> = piece
        .draws
        .iter()
        .filter_map(|draw| match &draw.shape {
            Shape::Text(text) => Some(text.text.as_str()),
            _ => None,
        })
        .take(4)
        .collect();
    texts.join(" ")
}

fn texts(pages: &[Vec<Draw>], fonts: &Fonts) -> Result<Vec<PlacedText>, PdfError> {
    let mut out = Vec::new();
    for (index, page) in pages.iter().enumerate() {
        for draw in page {
            let Shape::Text(text) = &draw.shape else {
                continue;
            };
            let width = fonts.width(&text.text, text.face, text.size)?;
            let x = match text.anchor {
                Anchor::Start => text.x,
                Anchor::Middle => text.x - width / 2.0,
                Anchor::End => text.x - width,
            };
            let (across, up) = (text.size * 0.96, text.size * 0.74);
            let (x, y, width, height) = if text.turned {
                (text.x - up, text.y - width, across, width)
            } else {
                (x, text.y - up, width, across)
            };
            out.push(PlacedText {
                page: index + 1,
                x,
                y,
                width,
                height,
                size: text.size,
                role: match draw.tag {
                    Some(TagId(_)) => TextRole::Body,
                    None => TextRole::Frame,
                },
                text: text.text.clone(),
            });
        }
    }
    Ok(out)
}
