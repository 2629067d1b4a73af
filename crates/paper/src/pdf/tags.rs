//! The tree of what everything is, and the outline of headings.

use std::num::NonZeroU16;

use krilla::destination::XyzDestination;
use krilla::geom::{Point, Rect};
use krilla::outline::{Outline, OutlineNode};
use krilla::tagging::{BBox, Identifier, ListNumbering, Node, TableHeaderScope, Tag, TagGroup, TagTree};

use crate::document::{HeadOf, Role};

/// A part that is on its page.
pub(super) struct Tagged {
    pub(super) role: Role,
    pub(super) identifier: Identifier,
    /// Its page, from 0.
    pub(super) page: usize,
    /// Where on the page, in whole points.
    pub(super) rect: Option<Rect>,
}

/// A book with more headings than this lists the first of each page, so that the list can be read, and is a fifth of
/// the file no more.
const LISTED_MOST: usize = 60;

/// A link to every heading, or in a book to the first of every page: those of the second level under the first.
pub(super) fn outline(parts: &[Tagged]) -> Outline {
    let headings = || {
        parts.iter().filter_map(|part| match &part.role {
            Role::Heading { level, text } => Some((part, *level, text)),
            _ => None,
        })
    };
    let is_book = headings().count() > LISTED_MOST;
    let mut listed = None;
    let mut outline = Outline::new();
    let mut top: Option<OutlineNode> = None;
    for (part, level, text) in headings() {
        let at = part.rect.map_or(Point::from_xy(0.0, 0.0), |rect| Point::from_xy(rect.left(), rect.top()));
        let node = OutlineNode::new(text.clone(), XyzDestination::new(part.page, at));
        match &mut top {
            Some(top) if level > 1 => {
                if !is_book || listed != Some(part.page) {
                    top.push_child(node);
                }
                listed = Some(part.page);
            }
            _ => {
                if let Some(done) = top.replace(node) {
                    outline.push_child(done);
                }
            }
        }
    }
    if let Some(done) = top {
        outline.push_child(done);
    }
    outline
}

/// Headings, paragraphs, pictures, lists and tables, one after the other.
pub(super) fn tree(parts: Vec<Tagged>) -> TagTree {
    let mut tree = TagTree::new().with_lang(Some("en".to_owned()));
    let mut open = Open::None;
    for part in parts {
        let (node, done) = open.with(part);
        for node in [done, node].into_iter().flatten() {
            tree.push(node);
        }
    }
    if let Some(node) = open.closed() {
        tree.push(node);
    }
    tree
}

/// A list or table that is not finished.
enum Open {
    None,
    List(TagGroup),
    Table { table: TagGroup, row: TagGroup, number: usize },
}

impl Open {
    /// Puts this in `place` and gives what was there.
    fn swap(self, place: &mut Self) -> Self {
        std::mem::replace(place, self)
    }

    fn closed(self) -> Option<Node> {
        match self {
            Self::None => None,
            Self::List(list) => Some(list.into()),
            Self::Table { mut table, row, .. } => {
                table.push(row);
                Some(table.into())
            }
        }
    }

    /// Takes a part in, or closes: the part as a node of its own, and what was closed before it.
    fn with(&mut self, part: Tagged) -> (Option<Node>, Option<Node>) {
        let Tagged { role, identifier, page, rect } = part;
        let leaf = |tag: TagGroup| {
            let mut tag = tag;
            tag.push(identifier);
            tag
        };
        match role {
            Role::Item => {
                let body = leaf(TagGroup::new(Tag::LBody));
                let item = TagGroup::with_children(Tag::LI, vec![body.into()]);
                if let Self::List(list) = self {
                    list.push(item);
                    return (None, None);
                }
                let list = TagGroup::with_children(Tag::L(ListNumbering::Disc), vec![item.into()]);
                (None, Self::List(list).swap(self).closed())
            }
            Role::Cell { row: number, head } => {
                let cell = leaf(match head {
                    Some(HeadOf::Column) => TagGroup::new(Tag::TH(TableHeaderScope::Column)),
                    Some(HeadOf::Row) => TagGroup::new(Tag::TH(TableHeaderScope::Row)),
                    None => TagGroup::new(Tag::TD),
                });
                if let Self::Table { table, row, number: now } = self {
                    if *now == number {
                        row.push(cell);
                    } else {
                        let next = TagGroup::with_children(Tag::TR, vec![cell.into()]);
                        table.push(std::mem::replace(row, next));
                        *now = number;
                    }
                    return (None, None);
                }
                let row = TagGroup::with_children(Tag::TR, vec![cell.into()]);
                let table = Self::Table { table: TagGroup::new(Tag::Table), row, number };
                (None, table.swap(self).closed())
            }
            role => {
                let group = match role {
                    Role::Heading { level, text } => {
                        let level = NonZeroU16::new(u16::from(level)).unwrap_or(NonZeroU16::MIN);
                        TagGroup::new(Tag::Hn(level, Some(text)))
                    }
                    Role::Figure { alt } => {
                        let place = rect.map(|rect| BBox::new(page, rect));
                        TagGroup::new(Tag::Figure(Some(alt)).with_bbox(place))
                    }
                    _ => TagGroup::new(Tag::P),
                };
                (Some(leaf(group).into()), Self::None.swap(self).closed())
            }
        }
    }
}
