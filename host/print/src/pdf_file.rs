//! A PDF with the marks of PDF/A-2a and PDF/UA-1: the settings, letters, and a label in its own size.

use crate::font::Weight;
use crate::label::Layout;
use krilla::configure::validate::{Accessibility, Archival};
use krilla::configure::{Configuration, ConfigurationBuilder};
use krilla::destination::XyzDestination;
use krilla::geom::{PathBuilder, Point, Rect, Size, Transform};
use krilla::metadata::{DateTime, Metadata};
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::surface::Surface;
use krilla::tagging::{Artifact, ArtifactType, ContentTag, Node, SpanTag, Tag, TagGroup, TagTree};
use krilla::text::{Font, GlyphId, KrillaGlyph};
use krilla::{Document, SerializeSettings};

/// Why there is no PDF.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the PDF could not be made: {0}")]
pub struct BadPdf(pub String);

/// What a PDF says of itself.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct About {
    /// Its title.
    pub title: String,
    /// Its language, as `en`.
    pub language: String,
    /// The day that it is of: year, month, day. The clock is not asked, so that the same data make the same bytes.
    pub day: (u16, u8, u8),
}

/// Points of a PDF in a mm.
pub(crate) const POINTS_IN_MM: f64 = 72.0 / 25.4;

/// Begins a PDF.
pub(crate) fn begun(about: &About) -> Result<Document, BadPdf> {
    let mut document =
        Document::new_with(SerializeSettings { configuration: configuration()?, ..Default::default() });
    let (year, month, day) = about.day;
    let day = DateTime::new(year)
        .month(month)
        .day(day)
        .hour(0)
        .minute(0)
        .second(0)
        .utc_offset_hour(0)
        .utc_offset_minute(0);
    let metadata = Metadata::new().title(about.title.clone()).language(about.language.clone());
    document.set_metadata(metadata.producer("celltriage".to_owned()).creation_date(day));
    Ok(document)
}

fn configuration() -> Result<Configuration, BadPdf> {
    let builder = ConfigurationBuilder::new()
        .with_archival_validator(Archival::A2_A)
        .with_accessibility_validator(Accessibility::UA1);
    builder.finish().map_err(|error| BadPdf(format!("{error:?}")))
}

/// Ends a PDF.
pub(crate) fn ended(mut document: Document, about: &About, tags: TagTree) -> Result<Vec<u8>, BadPdf> {
    let mut outline = Outline::new();
    outline
        .push_child(OutlineNode::new(about.title.clone(), XyzDestination::new(0, Point::from_xy(0.0, 0.0))));
    document.set_outline(outline);
    document.set_tag_tree(tags);
    document.finish().map_err(|error| BadPdf(format!("{error:?}")))
}

/// Both weights of the font for a PDF.
pub(crate) struct Fonts {
    regular: Font,
    bold: Font,
}

impl Fonts {
    pub(crate) fn open() -> Result<Self, BadPdf> {
        let font = |weight: Weight| {
            Font::new(weight.bytes().into(), 0)
                .ok_or_else(|| BadPdf("the font that is compiled in cannot be read".to_owned()))
        };
        Ok(Self { regular: font(Weight::Regular)?, bold: font(Weight::Bold)? })
    }

    /// Writes a line of words that the font has, at a baseline.
    pub(crate) fn write(
        &self,
        surface: &mut Surface<'_>,
        words: &str,
        weight: Weight,
        size: f64,
        [x, y]: [f64; 2],
    ) {
        let Some(face) = weight.face() else { return };
        let glyph = |placed: crate::font::Placed| {
            let id = GlyphId::new(placed.glyph.to_u32());
            KrillaGlyph::new(id, placed.advance as f32, 0.0, 0.0, 0.0, placed.from..placed.to, None)
        };
        let glyphs: Vec<KrillaGlyph> = face.placed(words).into_iter().map(glyph).collect();
        let font = match weight {
            Weight::Regular => &self.regular,
            Weight::Bold => &self.bold,
        };
        surface.draw_glyphs(
            Point::from_xy(x as f32, y as f32),
            &glyphs,
            font.clone(),
            words,
            size as f32,
            false,
        );
    }
}

/// Writes a label as PDF, as large as its paper, drawn in whole dots of its printer.
///
/// # Errors
/// It cannot be made.
pub fn label(layout: &Layout, about: &About) -> Result<Vec<u8>, BadPdf> {
    let fonts = Fonts::open()?;
    let mut document = begun(about)?;
    let paper = layout.paper;
    let [width, height] = [paper.width_mm, paper.height_mm].map(|side| (side * POINTS_IN_MM) as f32);
    let size = Size::from_wh(width, height).ok_or_else(|| BadPdf("a page without a size".to_owned()))?;
    let mut page = document.start_page_with(PageSettings::new(size));
    let mut surface = page.surface();
    let scale = paper.fineness.points_in_dot() as f32;
    surface.push_transform(&Transform::from_scale(scale, scale));
    let mut tags = TagTree::new();
    let mut text: Option<TagGroup> = None;
    for line in &layout.lines {
        if !line.goes_on {
            tags.children.extend(text.take().map(Node::from));
        }
        // A line that goes on ends with a space, so that words stay apart for whoever reads the text alone.
        let id = surface.start_tagged(ContentTag::Span(SpanTag::empty()));
        let at = [f64::from(line.x), f64::from(line.baseline)];
        fonts.write(&mut surface, &line.words, line.weight, f64::from(line.size), at);
        surface.end_tagged();
        text.get_or_insert_with(|| TagGroup::new(Tag::P)).push(id);
    }
    tags.children.extend(text.map(Node::from));
    if let Some(placed) = &layout.code {
        let id = surface.start_tagged(ContentTag::Other);
        rectangles(&mut surface, placed.rectangles());
        surface.end_tagged();
        tags.push(TagGroup::with_children(
            Tag::Figure(Some(format!("code of {}", about.title))),
            vec![Node::Leaf(id)],
        ));
    }
    if !layout.bars.is_empty() {
        surface.start_tagged(ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout)));
        rectangles(&mut surface, layout.bars.iter().copied());
        surface.end_tagged();
    }
    surface.pop();
    surface.finish();
    page.finish();
    ended(document, about, tags)
}

fn rectangles(surface: &mut Surface<'_>, all: impl Iterator<Item = [u32; 4]>) {
    let mut path = PathBuilder::new();
    for [x, y, width, height] in all.map(|rectangle| rectangle.map(|side| side as f32)) {
        if let Some(rectangle) = Rect::from_xywh(x, y, width, height) {
            path.push_rect(rectangle);
        }
    }
    if let Some(path) = path.finish() {
        surface.draw_path(&path);
    }
}
