//! Cards to cut from a sheet: a head, a line of place, and labels with their values, six to an A4.

use super::audit;
use super::scene::{About, Align, Item, Label, Letter, Rect, Scene, pt};
use super::sheet::{cut, frame, line};
use super::style::{Paper, Theme};
use super::words::{line_width, pitch, tidy};

/// One card as it is printed.
#[derive(Clone, Debug, PartialEq)]
pub struct Card {
    /// In bold.
    pub head: String,
    /// Below it.
    pub place: String,
    /// Label and value each; an empty value gets a rule to write on.
    pub lines: Vec<(String, String)>,
}

/// Cards across and down a sheet.
const ACROSS: usize = 3;
const DOWN: usize = 2;
/// Height of capitals, mm: names and lines.
const HEAD: f64 = 3.5;
const BODY: f64 = 2.0;
/// Share of a card's width that labels take.
const LABELS: f64 = 0.42;

/// Sheets of cards; no sheet where there is no card.
pub fn cards(title: &str, cards: &[Card]) -> Vec<Scene> {
    let each = ACROSS * DOWN;
    let of = cards.len().div_ceil(each);
    let title = tidy(title, 60).0;
    cards
        .chunks(each)
        .enumerate()
        .map(|(i, chunk)| {
            sheet(
                &title,
                &format!("{title}: settings, sheet {} of {of}", i + 1),
                chunk,
            )
        })
        .collect()
}

fn sheet(house: &str, title: &str, cards: &[Card]) -> Scene {
    let paper = Paper::A4;
    let f = frame(paper);
    let mut items = vec![Item::Frame(f, 0.7)];
    let (w, h) = (f.w / ACROSS as f64, f.h / DOWN as f64);
    for (i, card) in cards.iter().enumerate() {
        let r = Rect {
            x: f.x + w * (i % ACROSS) as f64,
            y: f.y + h * (i / ACROSS) as f64,
            w,
            h,
        };
        items.push(Item::Frame(r, 0.25));
        print(house, card, r.grow(-4.0), &mut items);
    }
    let audit = audit::audit(&items, paper, paper.scale(), f);
    Scene {
        paper,
        scale: paper.scale(),
        theme: Theme::Ink,
        title: title.to_owned(),
        desc: format!(
            "{} cards, one for each emitter whose valve is set",
            cards.len()
        ),
        items,
        words: Vec::new(),
        ids: Vec::new(),
        rows: 0,
        plant_loops: 0,
        fitted: Vec::new(),
        audit,
    }
}

/// A text in one line if it fits, else in two that part at a blank.
fn halves(text: &str, cap: f64, width: f64) -> Vec<String> {
    let fits = |part: &str| line_width(&line(part, false), cap) <= width;
    if fits(text) {
        return vec![text.to_owned()];
    }
    let mut blanks = text.rmatch_indices(' ');
    match blanks.find(|(at, _)| fits(&text[..*at])) {
        Some((at, _)) => vec![text[..at].to_owned(), text[at + 1..].to_owned()],
        None => vec![text.to_owned()],
    }
}

fn print(house: &str, card: &Card, r: Rect, items: &mut Vec<Item>) {
    let mut y = r.y;
    let mut put = |text: &str, bold: bool, cap: f64, x: f64, w: f64, y: f64| {
        items.push(Item::Label(Label {
            rect: Rect {
                x,
                y,
                w,
                h: pitch(cap),
            },
            lines: vec![cut(line(tidy(text, 80).0, bold), cap, w)],
            cap,
            letter: if bold { Letter::Name } else { Letter::Note },
            align: Align::Left,
            indent: 0.0,
            about: About::Sheet,
            full: None,
        }));
    };
    put(&card.head, true, HEAD, r.x, r.w, y);
    y += pitch(HEAD) + 1.0;
    put(&card.place, false, BODY, r.x, r.w, y);
    y += pitch(BODY) + 2.0;
    // a card that was cut off still says whose it is
    for part in halves(house, BODY, r.w) {
        put(&part, false, BODY, r.x, r.w, y);
        y += pitch(BODY);
    }
    y += 2.0;
    let value_x = r.x + LABELS * r.w;
    let mut rules = Vec::new();
    for (label, value) in &card.lines {
        let step = pitch(BODY) + 2.4;
        if y + step > r.bottom() {
            break;
        }
        if value.is_empty() {
            y += 3.0; // room for a pen
            put(label, false, BODY, r.x, LABELS * r.w - 1.0, y);
            rules.push((value_x, y + pitch(BODY)));
        } else {
            put(label, false, BODY, r.x, LABELS * r.w - 1.0, y);
            put(value, true, BODY, value_x, r.right() - value_x, y);
        }
        y += step;
    }
    for (x, y) in rules {
        items.push(Item::Rule(vec![pt(x, y), pt(r.right(), y)], 0.18));
    }
}
