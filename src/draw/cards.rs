//! Cards to cut from a sheet: a head, a line of place, and labels with their values, six to an A4. Texts are broken into
//! lines; what does not fit its card is an overlap, which the sheet's own look finds.

use super::audit;
use super::scene::{About, Align, Item, Label, Letter, Line, Rect, Scene, pt};
use super::sheet::{cut, frame, line};
use super::style::{Paper, Theme};
use super::words::{pitch, tidy};
use super::wrap::wrap;

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
/// Between two lines of a card at most, mm.
const GAP: f64 = 1.6;
/// Room for a pen over a rule to write on, mm.
const PEN: f64 = 3.0;
/// Share of a card's width that labels take.
const LABELS: f64 = 0.34;
/// Letters that a text of a card takes at most.
const LONGEST: usize = 160;

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
            "{} cards, one for each pump and each emitter whose valve is set",
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

/// A text in as many lines as it takes.
fn broken(text: &str, bold: bool, cap: f64, width: f64) -> Vec<Line> {
    let lines = wrap(&line(tidy(text, LONGEST).0, bold), cap, width);
    lines.into_iter().map(|l| cut(l, cap, width)).collect()
}

fn print(house: &str, card: &Card, r: Rect, items: &mut Vec<Item>) {
    let mut y = r.y;
    // puts lines and says how high they are
    let mut put = |lines: Vec<Line>, cap: f64, x: f64, w: f64, y: f64| {
        let h = pitch(cap) * lines.len() as f64;
        let bold = lines.iter().any(|l| l.bold);
        items.push(Item::Label(Label {
            rect: Rect { x, y, w, h },
            lines,
            cap,
            letter: if bold { Letter::Name } else { Letter::Note },
            align: Align::Left,
            indent: 0.0,
            about: About::Sheet,
            full: None,
        }));
        h
    };
    y += put(broken(&card.head, true, HEAD, r.w), HEAD, r.x, r.w, y) + 1.0;
    // a card that was cut off still says whose it is
    for text in [&card.place, house] {
        y += put(broken(text, false, BODY, r.w), BODY, r.x, r.w, y) + 1.0;
    }
    y += 1.0;
    let (value_x, value_w) = (r.x + LABELS * r.w, (1.0 - LABELS) * r.w);
    let rows = card.lines.iter().map(|(label, value)| {
        let label = broken(label, false, BODY, LABELS * r.w - 1.0);
        (label, broken(value, true, BODY, value_w), value.is_empty())
    });
    let rows: Vec<_> = rows.collect();
    let high = |(label, value, blank): &(Vec<Line>, Vec<Line>, bool)| {
        let pen = if *blank { PEN } else { 0.0 };
        pen + pitch(BODY) * label.len().max(value.len()) as f64
    };
    // a card with much to say has its lines closer together
    let left = (r.bottom() - y - rows.iter().map(high).sum::<f64>()) / rows.len().max(1) as f64;
    let gap = GAP.min(left.max(0.0));
    let mut rules = Vec::new();
    for row in rows {
        let h = high(&row);
        let (label, value, blank) = row;
        let top = if blank { y + PEN } else { y };
        if label.iter().any(|l| !l.text.is_empty()) {
            put(label, BODY, r.x, LABELS * r.w - 1.0, top);
        }
        if blank {
            rules.push((value_x, top + pitch(BODY)));
        } else {
            put(value, BODY, value_x, value_w, top);
        }
        y += h + gap;
    }
    for (x, y) in rules {
        items.push(Item::Rule(vec![pt(x, y), pt(r.right(), y)], 0.18));
    }
}
