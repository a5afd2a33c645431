//! What printpdf does not write: structure tree, language, bookmarks, links, metadata, and the
//! fields that would differ from run to run.
//!
//! The file makes no claim of a PDF standard beyond the tags that it carries; the XMP part number
//! says that it was built for readers that speak the page aloud.

use super::PdfError;
use super::page::Layout;
use super::tags::TagId;
use super::writer::{Contents, PlacedLink};
use crate::document::Document;
use crate::parallel;
use flate2::Compression;
use flate2::write::ZlibEncoder;
use lopdf::{Dictionary, Object, ObjectId, Stream, StringFormat, dictionary, text_string};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::io::Write as _;

/// What the page writer found out.
pub(super) struct Facts<'a> {
    pub document: &'a Document,
    pub layout: &'a Layout,
    pub contents: &'a Contents,
    /// Marked contents on each page.
    pub counts: &'a [usize],
    pub links: &'a [PlacedLink],
}

pub(super) fn finish(mut file: lopdf::Document, facts: &Facts) -> Result<Vec<u8>, PdfError> {
    file.version = "1.7".to_string();
    let pages: Vec<ObjectId> = file.page_iter().collect();
    let annotations = links(&mut file, facts, &pages)?;
    let tree = structure(&mut file, facts, &pages, &annotations);
    let outlines = outlines(&mut file, facts, &pages);
    let metadata = xmp(&mut file, facts.document);
    for (index, &page) in pages.iter().enumerate() {
        let dictionary = file.get_dictionary_mut(page).map_err(library)?;
        dictionary.set("StructParents", integer(index));
        dictionary.set("Tabs", name("S"));
        let own: Vec<Object> = annotations
            .iter()
            .zip(facts.links)
            .filter(|(_, link)| link.page == index)
            .map(|(&id, _)| Object::Reference(id))
            .collect();
        if own.is_empty() {
            dictionary.remove(b"Annots");
        } else {
            dictionary.set("Annots", own);
        }
    }
    let catalog = file.catalog_mut().map_err(library)?;
    catalog.set("Lang", text_string(&facts.document.language));
    catalog.set("MarkInfo", dictionary! { "Marked" => true });
    catalog.set(
        "ViewerPreferences",
        dictionary! { "DisplayDocTitle" => true },
    );
    catalog.set("StructTreeRoot", Object::Reference(tree));
    catalog.set("Metadata", Object::Reference(metadata));
    match outlines {
        Some(id) => {
            catalog.set("Outlines", Object::Reference(id));
            catalog.set("PageMode", name("UseOutlines"));
        }
        None => catalog.set("PageMode", name("UseNone")),
    }
    info(&mut file, facts.document)?;
    compress(&mut file)?;
    let mut hash = Sha256::new();
    hash.update(&facts.document.meta.fingerprint);
    for object in file.objects.values() {
        if let Object::Stream(stream) = object {
            hash.update(&stream.content);
        }
    }
    let hash = hash.finalize();
    let id = Object::String(
        hash.iter().take(16).copied().collect(),
        StringFormat::Hexadecimal,
    );
    file.trailer.set("ID", vec![id.clone(), id]);
    let mut bytes = Vec::new();
    let options = lopdf::SaveOptions::builder()
        .use_object_streams(true)
        .use_xref_streams(true)
        .compression_level(FAST)
        .build();
    file.save_with_options(&mut bytes, options)
        .map_err(|error| PdfError::Library {
            what: error.to_string(),
        })?;
    Ok(bytes)
}

/// The highest level takes three times as long for one byte in a hundred.
const FAST: u32 = 3;

/// Compresses what may be, on all cores.
fn compress(file: &mut lopdf::Document) -> Result<(), PdfError> {
    let streams: Vec<&mut Stream> = file
        .objects
        .values_mut()
        .filter_map(|object| match object {
            Object::Stream(stream) => Some(stream),
            _ => None,
        })
        .filter(|stream| stream.allows_compression && stream.dict.get(b"Filter").is_err())
        .collect();
    parallel::map(streams, |stream| {
        let mut encoder = ZlibEncoder::new(Vec::new(), Compression::new(FAST));
        encoder.write_all(&stream.content)?;
        let compressed = encoder.finish()?;
        if compressed.len() < stream.content.len() {
            stream.dict.set("Filter", "FlateDecode");
            stream.set_content(compressed);
        }
        Ok(())
    })
    .into_iter()
    .collect::<std::io::Result<()>>()
    .map_err(|error| PdfError::Library {
        what: error.to_string(),
    })
}

fn library(error: lopdf::Error) -> PdfError {
    PdfError::Library {
        what: error.to_string(),
    }
}

fn name(text: &str) -> Object {
    Object::Name(text.as_bytes().to_vec())
}

fn integer(value: usize) -> Object {
    Object::Integer(i64::try_from(value).unwrap_or(i64::MAX))
}

/// Link annotations, in the order of `facts.links`.
fn links(
    file: &mut lopdf::Document,
    facts: &Facts,
    pages: &[ObjectId],
) -> Result<Vec<ObjectId>, PdfError> {
    let mut out = Vec::new();
    for (index, link) in facts.links.iter().enumerate() {
        let rect: Vec<Object> = link
            .rect
            .iter()
            .map(|&edge| Object::Real(((edge * 100.0).round() / 100.0) as f32))
            .collect();
        let page = pages.get(link.page).ok_or_else(|| PdfError::Library {
            what: "a link points at no page".to_string(),
        })?;
        out.push(file.add_object(dictionary! {
            "Type" => "Annot",
            "Subtype" => "Link",
            "Rect" => rect,
            "Border" => vec![0.into(), 0.into(), 0.into()],
            "F" => 4,
            "P" => Object::Reference(*page),
            "Contents" => text_string(&link.address),
            "StructParent" => integer(pages.len() + index),
            "A" => dictionary! {
                "S" => "URI",
                "URI" => Object::string_literal(link.address.as_str()),
            },
        }));
    }
    Ok(out)
}

/// Something below a tag, and where on the pages it begins.
type Kid = (Option<(usize, usize)>, Object);

/// The structure tree; returns its root.
fn structure(
    file: &mut lopdf::Document,
    facts: &Facts,
    pages: &[ObjectId],
    annotations: &[ObjectId],
) -> ObjectId {
    let tags = &facts.layout.tags.0;
    let root = file.new_object_id();
    let ids: Vec<ObjectId> = tags.iter().map(|_| file.new_object_id()).collect();
    let id_of = |tag: TagId| ids.get(tag.0).copied().unwrap_or(root);

    // Kids in reading order: each stands where its first marked content is on its page. Where all
    // kids are tags they keep the order in which they were opened.
    let first = first_contents(facts);
    let mut kids: Vec<Vec<Kid>> = vec![Vec::new(); tags.len()];
    for (index, tag) in tags.iter().enumerate() {
        if let Some(slot) = tag.parent.and_then(|parent| kids.get_mut(parent.0)) {
            let place = first.get(index).copied().flatten();
            slot.push((place, Object::Reference(id_of(TagId(index)))));
        }
    }
    for (&tag, list) in facts.contents {
        let Some(slot) = kids.get_mut(tag.0) else {
            continue;
        };
        let mixed = !slot.is_empty();
        for &(page, number) in list {
            // A bare number is one on the element's own page.
            let kid = if Some(page) == own_page(facts, tag) {
                integer(number)
            } else {
                let page_id = pages.get(page).copied().unwrap_or(root);
                Object::Dictionary(dictionary! {
                    "Type" => "MCR",
                    "Pg" => Object::Reference(page_id),
                    "MCID" => integer(number),
                })
            };
            slot.push((Some((page, number)), kid));
        }
        if mixed {
            slot.sort_by_key(|(place, _)| *place);
        }
    }
    for (&annotation, link) in annotations.iter().zip(facts.links) {
        if let Some(slot) = link.tag.and_then(|tag| kids.get_mut(tag.0)) {
            let page_id = pages.get(link.page).copied().unwrap_or(root);
            slot.push((
                None,
                Object::Dictionary(dictionary! {
                    "Type" => "OBJR",
                    "Pg" => Object::Reference(page_id),
                    "Obj" => Object::Reference(annotation),
                }),
            ));
        }
    }
    let scope = |scope| dictionary! { "O" => "Table", "Scope" => scope };
    let (row, column) = (
        file.add_object(scope("Row")),
        file.add_object(scope("Column")),
    );
    for (index, (tag, kids)) in tags.iter().zip(kids).enumerate() {
        let parent = tag.parent.map_or(root, id_of);
        // Its `Type` may be left out; there are thousands.
        let mut element = dictionary! {
            "S" => tag.role,
            "P" => Object::Reference(parent),
            "K" => kids.into_iter().map(|(_, kid)| kid).collect::<Vec<Object>>(),
        };
        if let Some(page) = own_page(facts, TagId(index)).and_then(|page| pages.get(page)) {
            element.set("Pg", Object::Reference(*page));
        }
        if let Some(words) = &tag.alternative {
            element.set("Alt", text_string(words));
        }
        if tag.role == "TH" {
            let scope = if tag.heads_row { row } else { column };
            element.set("A", Object::Reference(scope));
        }
        if tag.columns > 1 {
            element.set(
                "A",
                dictionary! { "O" => "Table", "ColSpan" => integer(tag.columns) },
            );
        }
        file.set_object(id_of(TagId(index)), element);
    }

    let parents = parent_tree(facts, annotations, &id_of);
    let parent_tree = file.add_object(dictionary! { "Nums" => parents });
    file.set_object(
        root,
        dictionary! {
            "Type" => "StructTreeRoot",
            "K" => vec![Object::Reference(id_of(TagId(0)))],
            "ParentTree" => Object::Reference(parent_tree),
            "ParentTreeNextKey" => integer(pages.len() + annotations.len()),
        },
    );
    root
}

/// The page on which an element's own contents begin.
fn own_page(facts: &Facts, tag: TagId) -> Option<usize> {
    let (page, _) = facts.contents.get(&tag)?.first()?;
    Some(*page)
}

/// The first marked content of each tag or of anything below it.
fn first_contents(facts: &Facts) -> Vec<Option<(usize, usize)>> {
    let tags = &facts.layout.tags.0;
    let mut first: Vec<Option<(usize, usize)>> = (0..tags.len())
        .map(|index| facts.contents.get(&TagId(index))?.iter().min().copied())
        .collect();
    for (index, tag) in tags.iter().enumerate().rev() {
        let own = first.get(index).copied().flatten();
        if let (Some(own), Some(above)) = (own, tag.parent.and_then(|up| first.get_mut(up.0))) {
            *above = Some(above.map_or(own, |other| other.min(own)));
        }
    }
    first
}

/// From each page's marked contents, and from each link, back to its element.
fn parent_tree(
    facts: &Facts,
    annotations: &[ObjectId],
    id_of: &dyn Fn(TagId) -> ObjectId,
) -> Vec<Object> {
    let mut owner: BTreeMap<(usize, usize), TagId> = BTreeMap::new();
    for (&tag, list) in facts.contents {
        for &place in list {
            owner.insert(place, tag);
        }
    }
    let mut nums = Vec::new();
    for (page, &count) in facts.counts.iter().enumerate() {
        let row: Vec<Object> = (0..count)
            .map(|number| match owner.get(&(page, number)) {
                Some(&tag) => Object::Reference(id_of(tag)),
                None => Object::Null,
            })
            .collect();
        nums.push(integer(page));
        nums.push(Object::Array(row));
    }
    for (index, (_, link)) in annotations.iter().zip(facts.links).enumerate() {
        if let Some(tag) = link.tag {
            nums.push(integer(facts.counts.len() + index));
            nums.push(Object::Reference(id_of(tag)));
        }
    }
    nums
}

/// Bookmarks: level 1, and level 2 below it. Returns the root, unless there are none.
fn outlines(file: &mut lopdf::Document, facts: &Facts, pages: &[ObjectId]) -> Option<ObjectId> {
    struct Mark {
        title: String,
        page: usize,
        id: ObjectId,
        below: Vec<Mark>,
    }
    fn link(file: &mut lopdf::Document, marks: &[Mark], parent: ObjectId, pages: &[ObjectId]) {
        for (index, mark) in marks.iter().enumerate() {
            let page = pages
                .get(mark.page)
                .copied()
                .map_or(Object::Null, Object::Reference);
            let mut item = dictionary! {
                "Title" => text_string(&mark.title),
                "Parent" => Object::Reference(parent),
                "Dest" => vec![page, name("XYZ"), Object::Null, Object::Null, Object::Null],
            };
            if let Some(before) = index.checked_sub(1).and_then(|index| marks.get(index)) {
                item.set("Prev", Object::Reference(before.id));
            }
            if let Some(after) = marks.get(index + 1) {
                item.set("Next", Object::Reference(after.id));
            }
            if let (Some(first), Some(last)) = (mark.below.first(), mark.below.last()) {
                item.set("First", Object::Reference(first.id));
                item.set("Last", Object::Reference(last.id));
                item.set("Count", integer(mark.below.len()));
            }
            file.set_object(mark.id, item);
            link(file, &mark.below, mark.id, pages);
        }
    }
    let mut marks: Vec<Mark> = Vec::new();
    let mut count = 0;
    for (level, title, page) in &facts.layout.headings {
        let mark = Mark {
            title: title.clone(),
            page: *page,
            id: file.new_object_id(),
            below: Vec::new(),
        };
        match (level, marks.last_mut()) {
            (1, _) | (2, None) => marks.push(mark),
            (2, Some(above)) => above.below.push(mark),
            _ => continue,
        }
        count += 1;
    }
    let (first, last) = (marks.first()?.id, marks.last()?.id);
    let root = file.new_object_id();
    link(file, &marks, root, pages);
    file.set_object(
        root,
        dictionary! {
            "Type" => "Outlines",
            "First" => Object::Reference(first),
            "Last" => Object::Reference(last),
            "Count" => integer(count),
        },
    );
    Some(root)
}

fn info(file: &mut lopdf::Document, document: &Document) -> Result<(), PdfError> {
    let id = file
        .trailer
        .get(b"Info")
        .and_then(Object::as_reference)
        .map_err(library)?;
    let mut info = Dictionary::new();
    info.set("Title", text_string(&document.title));
    info.set(
        "Subject",
        text_string(&format!(
            "{} {}",
            document.meta.protocol, document.meta.version
        )),
    );
    // In full, so that a file can be traced to its version; on paper it is shortened.
    if !document.meta.fingerprint.is_empty() {
        info.set(
            "Keywords",
            text_string(&format!("fingerprint {}", document.meta.fingerprint)),
        );
    }
    info.set("Creator", text_string("tempwright"));
    info.set("Producer", text_string("tempwright"));
    file.set_object(id, info);
    Ok(())
}

fn xmp(file: &mut lopdf::Document, document: &Document) -> ObjectId {
    let title = crate::document::html::escape(&document.title);
    let language = crate::document::html::escape(&document.language);
    let packet = format!(
        "<?xpacket begin=\"\u{feff}\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n\
         <x:xmpmeta xmlns:x=\"adobe:ns:meta/\">\n\
         <rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">\n\
         <rdf:Description rdf:about=\"\" xmlns:dc=\"http://purl.org/dc/elements/1.1/\" \
         xmlns:pdfuaid=\"http://www.aiim.org/pdfua/ns/id/\">\n\
         <dc:title><rdf:Alt><rdf:li xml:lang=\"x-default\">{title}</rdf:li></rdf:Alt></dc:title>\n\
         <dc:language><rdf:Bag><rdf:li>{language}</rdf:li></rdf:Bag></dc:language>\n\
         <pdfuaid:part>1</pdfuaid:part>\n\
         </rdf:Description>\n</rdf:RDF>\n</x:xmpmeta>\n<?xpacket end=\"w\"?>"
    );
    let stream = Stream::new(
        dictionary! { "Type" => "Metadata", "Subtype" => "XML" },
        packet.into_bytes(),
    )
    .with_compression(false);
    file.add_object(stream)
}
