//! Draws a layout, page by page, and has the file finished.

use super::PdfError;
use super::canvas::Canvas;
use super::finish::{self, Facts};
use super::fonts::Fonts;
use super::galley::Draw;
use super::ops::PageOps;
use super::page::Layout;
use super::tags::TagId;
use crate::document::Document;
use crate::document::shape::{Face, Shape, TextShape};
use printpdf::{FontId, Mm, PdfDocument, PdfFont, PdfPage, PdfSaveOptions};
use std::collections::{BTreeMap, BTreeSet};

/// A link on a page: where, where to, and its tag.
pub(super) struct PlacedLink {
    pub page: usize,
    pub rect: [f64; 4],
    pub address: String,
    pub tag: Option<TagId>,
}

/// Which marked contents belong to which tag, as (page, number) in reading order.
pub(super) type Contents = BTreeMap<TagId, Vec<(usize, usize)>>;

pub(super) fn write(document: &Document, layout: &Layout) -> Result<Vec<u8>, PdfError> {
    let fonts = Fonts::load()?;
    let mut pdf = PdfDocument::new(&document.title);
    pdf.metadata.info.creator = "tempwright".to_string();
    pdf.metadata.info.producer = "tempwright".to_string();
    pdf.metadata.info.subject = format!("{} {}", document.meta.protocol, document.meta.version);
    for (face, id) in [(Face::Regular, "F1"), (Face::Bold, "F2")] {
        let font = fonts.subset(face, &used(document, layout, face))?;
        pdf.resources
            .fonts
            .map
            .insert(FontId(id.to_string()), PdfFont::new(font));
    }
    let mut contents = Contents::new();
    let mut links = Vec::new();
    let mut pages = Vec::new();
    for (index, draws) in layout.pages.iter().enumerate() {
        let mut page = PageOps::new(layout.height);
        if let Some(mark) = &document.draft {
            draw_mark(&mut page, &fonts, mark, layout)?;
        }
        let mut pen = Pen {
            canvas: &mut page,
            layout,
            fonts: &fonts,
            page: index,
            contents: &mut contents,
            links: &mut links,
            next: 0,
            open: None,
        };
        for (index, draw) in draws.iter().enumerate() {
            let after = draws.get(index + 1..).unwrap_or_default();
            pen.draw(draw, parted(draw, after, &fonts)?)?;
        }
        let count = pen.finish();
        pages.push((
            count,
            PdfPage::new(pt_to_mm(layout.width), pt_to_mm(layout.height), page.ops),
        ));
    }
    let counts: Vec<usize> = pages.iter().map(|(count, _)| *count).collect();
    pdf.pages = pages.into_iter().map(|(_, page)| page).collect();
    let mut warnings = Vec::new();
    let options = PdfSaveOptions {
        optimize: false,
        subset_fonts: false,
        ..PdfSaveOptions::default()
    };
    let file = pdf.to_lopdf_document(&options, &mut warnings);
    finish::finish(
        file,
        &Facts {
            document,
            layout,
            contents: &contents,
            counts: &counts,
            links: &links,
        },
    )
}

fn pt_to_mm(points: f64) -> Mm {
    Mm((points * 25.4 / 72.0) as f32)
}

fn used(document: &Document, layout: &Layout, face: Face) -> BTreeSet<char> {
    let mut used: BTreeSet<char> = BTreeSet::from([' ']);
    for draw in layout.pages.iter().flatten() {
        if let Shape::Text(text) = &draw.shape
            && text.face == face
        {
            used.extend(text.text.chars());
        }
    }
    if face == Face::Bold
        && let Some(mark) = &document.draft
    {
        used.extend(mark.chars());
    }
    used
}

fn draw_mark(
    page: &mut PageOps,
    fonts: &Fonts,
    mark: &str,
    layout: &Layout,
) -> Result<(), PdfError> {
    let room = layout.width.hypot(layout.width) * 0.86;
    let one = fonts.width(mark, Face::Bold, 1.0)?;
    let size = (room / one).min(64.0);
    page.open("Artifact", None);
    // Twice, so that neither half of a page that is cut or copied is without it.
    for share in [0.3, 0.72] {
        let centre = (layout.width / 2.0, layout.height * share);
        page.mark(mark, size * 0.8, one * size * 0.8, centre);
    }
    page.close();
    Ok(())
}

/// Whether more of the same tag follows at another place: then a space stands between them, or a
/// reader that takes the text without its places would run two words together.
fn parted(draw: &Draw, after: &[Draw], fonts: &Fonts) -> Result<bool, PdfError> {
    let Shape::Text(text) = &draw.shape else {
        return Ok(false);
    };
    let next = after.iter().find_map(|next| match &next.shape {
        Shape::Text(more) => Some((more, next.tag)),
        _ => None,
    });
    let Some((more, _)) = next.filter(|(_, tag)| tag.is_some() && *tag == draw.tag) else {
        return Ok(false);
    };
    let width = fonts.width(&text.text, text.face, text.size)?;
    let beside = (more.y - text.y).abs() < 0.1 && (more.x - text.x - width).abs() < 0.5;
    Ok(!beside && !text.text.ends_with([' ', '-']))
}

/// Draws one page, opening and closing marked content as the tag changes.
struct Pen<'a> {
    canvas: &'a mut PageOps,
    layout: &'a Layout,
    fonts: &'a Fonts,
    page: usize,
    contents: &'a mut Contents,
    links: &'a mut Vec<PlacedLink>,
    next: usize,
    open: Option<Option<TagId>>,
}

impl Pen<'_> {
    /// Draws one shape; a text that goes on elsewhere ends in a space.
    fn draw(&mut self, draw: &Draw, goes_on: bool) -> Result<(), PdfError> {
        if let Shape::Link {
            x,
            y,
            width,
            height,
            address,
        } = &draw.shape
        {
            let top = self.layout.height - y;
            self.links.push(PlacedLink {
                page: self.page,
                rect: [*x, top - height, x + width, top],
                address: address.clone(),
                tag: draw.tag,
            });
            return Ok(());
        }
        self.enter(draw.tag);
        match &draw.shape {
            Shape::Text(text) => {
                let width = self.fonts.width(&text.text, text.face, text.size)?;
                if goes_on {
                    let text = TextShape {
                        text: format!("{} ", text.text),
                        ..text.clone()
                    };
                    self.canvas.text(&text, width);
                } else {
                    self.canvas.text(text, width);
                }
            }
            Shape::Line {
                from,
                to,
                thickness,
                ink,
                dashed,
            } => self.canvas.line(*from, *to, *thickness, *ink, *dashed),
            Shape::Rect {
                x,
                y,
                width,
                height,
                fill,
                frame,
            } => self.canvas.rect((*x, *y), (*width, *height), *fill, *frame),
            Shape::Polygon { points, fill } => self.canvas.polygon(points, *fill),
            Shape::Link { .. } => {}
        }
        Ok(())
    }

    fn enter(&mut self, tag: Option<TagId>) {
        if self.open == Some(tag) {
            return;
        }
        if self.open.is_some() {
            self.canvas.close();
        }
        match tag.and_then(|id| self.layout.tags.0.get(id.0).map(|tag| (id, tag.role))) {
            Some((id, role)) => {
                self.canvas.open(role, Some(self.next));
                self.contents
                    .entry(id)
                    .or_default()
                    .push((self.page, self.next));
                self.next += 1;
            }
            None => self.canvas.open("Artifact", None),
        }
        self.open = Some(tag);
    }

    fn finish(self) -> usize {
        if self.open.is_some() {
            self.canvas.close();
        }
        self.next
    }
}
