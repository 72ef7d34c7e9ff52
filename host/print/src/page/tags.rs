//! Draws pieces and says what each is, so that the pages can be read aloud: headings, lists, tables with their heads, figures.

use super::piece::{Content, Part, Piece, Role};
use super::{shade, shapes};
use crate::pdf_file::Fonts;
use krilla::geom::{PathBuilder, Rect, Size, Transform};
use krilla::paint::Stroke;
use krilla::surface::Surface;
use krilla::tagging::{
    Artifact, ArtifactType, ContentTag, ListNumbering, Node, SpanTag, TableHeaderScope, Tag, TagGroup,
    TagTree,
};
use std::num::NonZeroU16;

/// The tags so far.
#[derive(Default)]
pub(super) struct Tags {
    tree: Vec<Node>,
    /// The list or table whose items or rows come one after another.
    open: Option<(Role, TagGroup)>,
}

impl Tags {
    /// Ends the tags.
    pub(super) fn ended(mut self) -> TagTree {
        self.close();
        let mut tree = TagTree::new();
        tree.children = self.tree;
        tree
    }

    fn close(&mut self) {
        self.tree.extend(self.open.take().map(|(_, group)| Node::Group(group)));
    }

    /// Draws a piece at a place.
    pub(super) fn draw(&mut self, piece: &Piece, at: [f64; 2], fonts: &Fonts, surface: &mut Surface<'_>) {
        if self.open.as_ref().is_some_and(|(role, _)| *role != piece.role) {
            self.close();
        }
        frames(piece, at, surface);
        let mut nodes: Vec<(bool, Vec<Node>)> = Vec::new();
        for part in &piece.parts {
            nodes.push((part.head, drawn(part, at, fonts, surface)));
        }
        let all = |nodes: Vec<(bool, Vec<Node>)>| {
            nodes.into_iter().flat_map(|(_, nodes)| nodes).collect::<Vec<_>>()
        };
        match &piece.role {
            Role::Heading(level) => {
                let level = NonZeroU16::new(*level).unwrap_or(NonZeroU16::MIN);
                self.tree.push(Node::Group(TagGroup::with_children(
                    Tag::Hn(level, Some(said(piece))),
                    all(nodes),
                )));
            }
            Role::Paragraph => self.tree.push(Node::Group(TagGroup::with_children(Tag::P, all(nodes)))),
            Role::Figure(shows) => {
                self.tree
                    .push(Node::Group(TagGroup::with_children(Tag::Figure(Some(shows.clone())), all(nodes))));
            }
            Role::Item(_) => {
                let mut item = TagGroup::new(Tag::LI);
                let mut nodes = nodes.into_iter();
                if let Some((_, sign)) = nodes.next() {
                    item.push(TagGroup::with_children(Tag::Lbl, sign));
                }
                item.push(TagGroup::with_children(Tag::LBody, nodes.flat_map(|(_, nodes)| nodes).collect()));
                let list = self
                    .open
                    .get_or_insert_with(|| (piece.role.clone(), TagGroup::new(Tag::L(ListNumbering::None))));
                list.1.push(item);
            }
            Role::Row(_) => {
                let scope = if nodes.iter().all(|(head, _)| *head) {
                    TableHeaderScope::Column
                } else {
                    TableHeaderScope::Row
                };
                let cell = |(head, nodes): (bool, Vec<Node>)| {
                    Node::Group(match head {
                        true => TagGroup::with_children(Tag::TH(scope), nodes),
                        false => TagGroup::with_children(Tag::TD, nodes),
                    })
                };
                let row = TagGroup::with_children(Tag::TR, nodes.into_iter().map(cell).collect());
                let table = self.open.get_or_insert_with(|| (piece.role.clone(), TagGroup::new(Tag::Table)));
                table.1.push(row);
            }
            Role::Nothing => {}
        }
    }
}

/// The words of a piece.
fn said(piece: &Piece) -> String {
    let lines = piece.parts.iter().flat_map(|part| &part.content);
    let words = lines.filter_map(|content| match content {
        Content::Line { runs, .. } => Some(runs.iter().map(|run| run.words.as_str()).collect::<String>()),
        _ => None,
    });
    words.collect::<Vec<_>>().join(" ").trim().to_owned()
}

/// Draws what a part holds; returns its leaves.
fn drawn(part: &Part, [left, top]: [f64; 2], fonts: &Fonts, surface: &mut Surface<'_>) -> Vec<Node> {
    let mut leaves = Vec::new();
    for content in &part.content {
        match content {
            Content::Line { runs, at: [x, y], size } => {
                for run in runs.iter().filter(|run| !run.words.is_empty()) {
                    let id = surface.start_tagged(ContentTag::Span(SpanTag::empty()));
                    surface.set_fill(Some(shade(run.grey)));
                    fonts.write(surface, &run.words, run.weight, *size, [left + x + run.x, top + y]);
                    surface.end_tagged();
                    leaves.push(Node::Leaf(id));
                }
            }
            Content::Drawing { drawing, unit, at: [x, y] } => {
                let id = surface.start_tagged(ContentTag::Other);
                shapes::draw(drawing, *unit, [left + x, top + y], fonts, surface);
                surface.end_tagged();
                leaves.push(Node::Leaf(id));
            }
            Content::Image { image, at: [x, y], size: [width, height] } => {
                let Some(size) = Size::from_wh(*width as f32, *height as f32) else { continue };
                let id = surface.start_tagged(ContentTag::Other);
                surface.push_transform(&Transform::from_translate((left + x) as f32, (top + y) as f32));
                surface.draw_image(image.clone(), size);
                surface.pop();
                surface.end_tagged();
                leaves.push(Node::Leaf(id));
            }
        }
    }
    leaves
}

/// Draws frames and lines, which say nothing.
fn frames(piece: &Piece, [left, top]: [f64; 2], surface: &mut Surface<'_>) {
    if piece.frames.is_empty() {
        return;
    }
    surface.start_tagged(ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout)));
    for frame in &piece.frames {
        let [x, y, width, height] = frame.place;
        let Some(place) = Rect::from_xywh((left + x) as f32, (top + y) as f32, width as f32, height as f32)
        else {
            continue;
        };
        let mut path = PathBuilder::new();
        path.push_rect(place);
        if let Some(path) = path.finish() {
            surface.set_fill(frame.filled.then(|| shade(0)));
            surface.set_stroke((!frame.filled).then(|| Stroke { width: 0.8, ..Stroke::default() }));
            surface.draw_path(&path);
        }
    }
    surface.set_fill(None);
    surface.set_stroke(None);
    surface.end_tagged();
}
