//! Draws a layout through [`Canvas`], a small trait of our own, so that the PDF library can be
//! replaced without touching the layout. [`PageOps`] is the one that writes for printpdf.

use super::PdfError;
use super::finish::{self, Facts};
use super::fonts::Fonts;
use super::galley::Draw;
use super::page::Layout;
use super::tags::TagId;
use crate::document::Document;
use crate::document::shape::{Anchor, Face, Ink, Shape, TextShape};
use printpdf::{
    Color, DictItem, FontId, Greyscale, Line, LineCapStyle, LineDashPattern, LinePoint, Mm, Op,
    PaintMode, PdfDocument, PdfFont, PdfFontHandle, PdfPage, PdfSaveOptions, Point, Polygon,
    PolygonRing, Pt, Rect, TextItem, TextMatrix, WindingOrder,
};
use std::collections::{BTreeMap, BTreeSet};

/// What a page can be told to draw. Origin at the top left, y downwards, in points.
pub(super) trait Canvas {
    fn text(&mut self, text: &TextShape, width: f64);
    fn line(&mut self, from: (f64, f64), to: (f64, f64), thickness: f64, ink: Ink, dashed: bool);
    fn rect(&mut self, at: (f64, f64), size: (f64, f64), fill: Option<Ink>, frame: Option<f64>);
    fn polygon(&mut self, points: &[(f64, f64)], fill: Ink);
    /// A text across the page, rising by 45°, centred there.
    fn mark(&mut self, text: &str, size: f64, width: f64, centre: (f64, f64));
    /// Opens marked content: numbered, or decoration without a number.
    fn open(&mut self, role: &str, number: Option<usize>);
    fn close(&mut self);
}

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

/// The canvas that collects printpdf's operations for one page.
struct PageOps {
    ops: Vec<Op>,
    height: f64,
    set: Set,
}

/// What holds on a page until it is set again: said once, a page is a third shorter.
#[derive(Default)]
struct Set {
    fill: Option<Ink>,
    outline: Option<Ink>,
    thickness: Option<Pt>,
    dashed: Option<bool>,
    font: Option<(Face, Pt)>,
}

/// Whether a value is another than the one that holds; it holds from here.
fn changes<T: PartialEq>(held: &mut Option<T>, value: T) -> bool {
    let changes = held.as_ref() != Some(&value);
    *held = Some(value);
    changes
}

impl PageOps {
    fn new(height: f64) -> PageOps {
        PageOps {
            ops: vec![Op::SetLineCapStyle {
                cap: LineCapStyle::Butt,
            }],
            height,
            set: Set::default(),
        }
    }

    fn fill(&mut self, ink: Ink) {
        if changes(&mut self.set.fill, ink) {
            self.ops.push(Op::SetFillColor { col: grey(ink) });
        }
    }

    fn pen(&mut self, ink: Ink, thickness: f64, dashed: bool) {
        if changes(&mut self.set.outline, ink) {
            self.ops.push(Op::SetOutlineColor { col: grey(ink) });
        }
        let thickness = pt(thickness);
        if changes(&mut self.set.thickness, thickness) {
            self.ops.push(Op::SetOutlineThickness { pt: thickness });
        }
        if changes(&mut self.set.dashed, dashed) {
            let dash = if dashed {
                LineDashPattern::new(0.0, &[2.0, 2.0])
            } else {
                LineDashPattern::solid()
            };
            self.ops.push(Op::SetLineDashPattern { dash });
        }
    }

    fn point(&self, (x, y): (f64, f64)) -> Point {
        Point {
            x: pt(x),
            y: pt(self.height - y),
        }
    }

    fn corner(&self, at: (f64, f64)) -> LinePoint {
        LinePoint {
            p: self.point(at),
            bezier: false,
        }
    }

    fn show(&mut self, text: &str, face: Face, size: f64, matrix: [f32; 6]) {
        let id = match face {
            Face::Regular => "F1",
            Face::Bold => "F2",
        };
        self.ops.push(Op::StartTextSection);
        let size = pt(size);
        if changes(&mut self.set.font, (face, size)) {
            let font = PdfFontHandle::External(FontId(id.to_string()));
            self.ops.push(Op::SetFont { font, size });
        }
        self.ops.extend([
            Op::SetTextMatrix {
                matrix: TextMatrix::Raw(matrix),
            },
            Op::ShowText {
                items: vec![TextItem::Text(text.to_string())],
            },
            Op::EndTextSection,
        ]);
    }
}

/// Rounded to a thousandth of a point: enough for print, and the same on every machine.
fn pt(value: f64) -> Pt {
    Pt(((value * 1000.0).round() / 1000.0) as f32)
}

fn grey(ink: Ink) -> Color {
    Color::Greyscale(Greyscale {
        percent: f32::from(ink.0) / 100.0,
        icc_profile: None,
    })
}

impl Canvas for PageOps {
    fn text(&mut self, text: &TextShape, width: f64) {
        let x = match text.anchor {
            Anchor::Start => text.x,
            Anchor::Middle => text.x - width / 2.0,
            Anchor::End => text.x - width,
        };
        let at = self.point((x, text.y));
        let lean = if text.italic { 0.2 } else { 0.0 };
        self.fill(Ink::BLACK);
        let matrix = if text.turned {
            [0.0, 1.0, -1.0, 0.0, at.x.0, at.y.0]
        } else {
            [1.0, 0.0, lean, 1.0, at.x.0, at.y.0]
        };
        self.show(&text.text, text.face, text.size, matrix);
    }

    fn line(&mut self, from: (f64, f64), to: (f64, f64), thickness: f64, ink: Ink, dashed: bool) {
        let line = Line {
            points: vec![self.corner(from), self.corner(to)],
            is_closed: false,
        };
        self.pen(ink, thickness, dashed);
        self.ops.push(Op::DrawLine { line });
    }

    fn rect(&mut self, at: (f64, f64), size: (f64, f64), fill: Option<Ink>, frame: Option<f64>) {
        let mode = match (fill, frame) {
            (Some(_), Some(_)) => PaintMode::FillStroke,
            (Some(_), None) => PaintMode::Fill,
            (None, _) => PaintMode::Stroke,
        };
        if let Some(ink) = fill {
            self.fill(ink);
        }
        if mode != PaintMode::Fill {
            self.pen(Ink::BLACK, frame.unwrap_or(0.5), false);
        }
        let low = self.point((at.0, at.1 + size.1));
        self.ops.push(Op::DrawRectangle {
            rectangle: Rect {
                x: low.x,
                y: low.y,
                width: pt(size.0),
                height: pt(size.1),
                mode: Some(mode),
                winding_order: None,
            },
        });
    }

    fn polygon(&mut self, points: &[(f64, f64)], fill: Ink) {
        let points = points.iter().map(|&at| self.corner(at)).collect();
        self.fill(fill);
        self.ops.push(Op::DrawPolygon {
            polygon: Polygon {
                rings: vec![PolygonRing { points }],
                mode: PaintMode::Fill,
                winding_order: WindingOrder::NonZero,
            },
        });
    }

    fn mark(&mut self, text: &str, size: f64, width: f64, centre: (f64, f64)) {
        let half = std::f64::consts::FRAC_1_SQRT_2;
        let along = width / 2.0 * half;
        let across = size * 0.33 * half;
        let x = centre.0 - along + across;
        let y = self.height - centre.1 - along - across;
        let turn = half as f32;
        self.fill(Ink::MARK);
        self.show(
            text,
            Face::Bold,
            size,
            [turn, turn, -turn, turn, pt(x).0, pt(y).0],
        );
    }

    fn open(&mut self, role: &str, number: Option<usize>) {
        self.ops.push(match number {
            Some(number) => Op::BeginMarkedContentWithProperties {
                tag: role.to_string(),
                properties: DictItem::Dict {
                    map: BTreeMap::from([(
                        "MCID".to_string(),
                        DictItem::Int(i64::try_from(number).unwrap_or(0)),
                    )]),
                },
            },
            None => Op::BeginMarkedContent {
                tag: role.to_string(),
            },
        });
    }

    fn close(&mut self) {
        self.ops.push(Op::EndMarkedContent);
    }
}
