//! Names at places to which words elsewhere refer: `joins landing` needs a landing to be found.

use super::audit::{lines_of, pieces, symbol_box};
use super::fit::{Fitted, lettering};
use super::scene::{About, Align, Item, Label, Letter, Line, Pt, Rect};
use super::words::{line_width, pitch};
use std::collections::BTreeMap;

/// What the words that refer to a place begin with.
pub(crate) const JOINS: &str = "joins ";

/// Farthest that a name may stand from its place, and the steps towards it, mm.
const STEPS: [f64; 5] = [1.2, 2.2, 3.4, 4.6, 6.0];

/// Write the names where the places are: on the first sheet that shows them.
pub(crate) fn name_places<'a>(sheets: impl Iterator<Item = &'a mut Fitted>) {
    let mut sheets: Vec<&mut Fitted> = sheets.collect();
    let mut asked: BTreeMap<usize, String> = BTreeMap::new();
    for item in sheets.iter().flat_map(|s| &s.items) {
        if let Item::Label(label) = item
            && let (About::Place(place), Some(line)) = (label.about, label.lines.first())
            && let Some(name) = line.text.strip_prefix(JOINS)
        {
            asked.insert(place, name.to_string());
        }
    }
    for (place, name) in asked {
        for sheet in &mut sheets {
            let spots = sheet.places.get(&place).cloned().unwrap_or_default();
            if let Some(label) = spots.iter().find_map(|p| beside(sheet, place, &name, *p)) {
                sheet.items.push(Item::Label(label));
                break;
            }
        }
    }
}

/// A name near a place, where nothing else is.
fn beside(sheet: &Fitted, place: usize, name: &str, at: Pt) -> Option<Label> {
    let cap = lettering(sheet.scale).value * sheet.scale;
    let line = Line {
        text: name.to_string(),
        bold: true,
    };
    let (w, h) = (line_width(&line, cap), pitch(cap));
    let mut taken: Vec<Rect> = Vec::new();
    for item in &sheet.items {
        match item {
            Item::Label(label) => taken.extend(lines_of(label)),
            Item::Symbol(symbol) => taken.push(symbol_box(symbol)),
            Item::Stroke(stroke) => taken.extend(pieces(stroke, sheet.scale)),
            Item::Dot(p, size) | Item::Arrow(p, _, _, size) => {
                taken.push(Rect::of(*p, *p).grow(size / 2.0))
            }
            Item::Mark(_, r, _) => taken.push(*r),
            _ => {}
        }
    }
    STEPS.iter().find_map(|&d| {
        let (left, right) = (at.x - d - w, at.x + d);
        let (above, below) = (at.y - d - h, at.y + d);
        let middle = at.x - w / 2.0;
        let corners = [right, left, middle].map(|x| [(x, above), (x, below)]);
        corners.into_iter().flatten().find_map(|(x, y)| {
            let rect = Rect { x, y, w, h };
            let label = Label {
                rect,
                lines: vec![line.clone()],
                cap,
                letter: Letter::Name,
                align: Align::Left,
                indent: 0.0,
                about: About::Place(place),
                full: None,
            };
            let own = rect.grow(0.5);
            let free = taken.iter().all(|r| !r.overlaps(&own, 0.0));
            let inside = own.x >= sheet.room.x
                && own.y >= sheet.room.y
                && own.right() <= sheet.room.right()
                && own.bottom() <= sheet.room.bottom();
            (free && inside).then_some(label)
        })
    })
}
