//! Which paper, which folding: attempts in a fixed order, the first that fits is taken.

use super::draft::{Frame, items};
use super::figures::Figures;
use super::layout::{Options, Part, lay};
use super::pen::Pen;
use super::scene::{Item, Pt, Rect, pt};
use super::style::{Paper, Style};
use super::tracks::Axis;
use super::words::{Lettering, Words};
use std::collections::BTreeMap;

/// A layout that fits its paper.
pub(crate) struct Fitted {
    pub items: Vec<Item>,
    pub rows: usize,
    pub plant_loops: usize,
    pub notes: Vec<String>,
    /// Rows of the key that the paper leaves room for.
    pub key_rows: usize,
    /// Sheet millimetres per layout unit.
    pub scale: f64,
    /// Where places are.
    pub places: BTreeMap<usize, Vec<Pt>>,
    /// Where the layout may stand.
    pub room: Rect,
}

/// Lettering at a scale, layout units: figures of 2.5 units, notes of 1.8 mm.
pub(crate) fn lettering(scale: f64) -> Lettering {
    Lettering {
        value: 2.5,
        note: 1.8 / scale,
    }
}

/// Share of a sheet's cells with ink, before frame and strip, under which it counts as sparse: with them three tenths.
const SPARSE: f64 = 0.22;

/// Larger scales, the largest first: one or two steps of the series of lettering heights above the paper's own, for
/// what would stand small and lost on its sheet; the largest only on sheets that stay sparse.
const LARGER: [f64; 3] = [2.0, 1.4, 1.0];

/// Shortest pipe on a paper, layout units: 2 % of the diagonal and a little.
fn least(paper: Paper, scale: f64) -> f64 {
    let (w, h) = paper.size_mm();
    (w * w + h * h).sqrt() * 0.0203 / scale
}

/// Longest that all pipes together may become by sharing out slack, in sheet diagonals.
const LONGEST: f64 = 3.6;
/// Longest that they may be at all, as long as several sheets can hold the drawing instead.
pub(crate) const LONGEST_OF_ONE: f64 = 4.0;

/// Try one paper; `room` is where the layout may stand, mm.
pub(crate) fn on_paper(
    parts: &[Part],
    figures: &Figures,
    words: &mut Words,
    style: &Style,
    (paper, room): (Paper, Rect),
    longest: f64,
) -> Option<Fitted> {
    let on = (paper, room, longest);
    // a label for each pipe only in the record, and there only where there is room
    let pairs: &[bool] = match style.level <= super::style::Level::Normal {
        true => &[true],
        false => &[false, true],
    };
    pairs.iter().find_map(|&pairs| {
        // where there is too much pipe, labels of drops stand beside the valves: rows become lower
        let mut long = false;
        let how = |beside| Labels { pairs, beside };
        attempts(parts, figures, words, style, on, (how(false), &mut long)).or_else(|| {
            let again = (how(true), &mut false);
            long.then(|| attempts(parts, figures, words, style, on, again))?
        })
    })
}

/// Where labels stand.
#[derive(Clone, Copy)]
struct Labels {
    /// One for both pipes of a pair.
    pairs: bool,
    /// Those of drops beside the valves.
    beside: bool,
}

fn attempts(
    parts: &[Part],
    figures: &Figures,
    words: &mut Words,
    style: &Style,
    (paper, room, longest): (Paper, Rect, f64),
    (Labels { pairs, beside }, long): (Labels, &mut bool),
) -> Option<Fitted> {
    let most_cells = parts.iter().map(|p| longest_row(&p.row)).max().unwrap_or(0);
    let mut folds = vec![0];
    folds.extend(
        (2..most_cells)
            .rev()
            .map(|n| most_cells.div_ceil(most_cells.div_ceil(n))),
    );
    folds.dedup();
    let aside = parts.iter().any(|p| !p.aside.is_empty());
    let groups: &[usize] = if parts.iter().any(|p| most_levels(&p.row) > 2) {
        &[1, 2, 3]
    } else {
        &[1]
    };
    let (mut lost, mut spare) = (0, None);
    let mut too_high: Vec<(usize, bool)> = Vec::new();
    for (&group, fold, narrow) in orders(groups, &folds) {
        if too_high.contains(&(group, narrow)) {
            continue;
        }
        words.narrow = narrow;
        let mut options = Options {
            lettering: lettering(paper.scale()),
            least: least(paper, paper.scale()),
            scale: paper.scale(),
            fold,
            narrow,
            pairs,
            widen: 0.0,
            group,
            refer: false,
            beside,
        };
        // links that find no way get wider gaps, in the end words
        let tries: &[(f64, bool)] = if aside {
            &[(0.0, false), (4.0, false), (0.0, true)]
        } else {
            &[(0.0, false)]
        };
        for &(widen, refer) in tries {
            (options.widen, options.refer) = (widen, refer);
            if lost >= 2 && !refer {
                continue; // links that found no way twice will hardly find one folded
            }
            let pen = lay(parts, figures, words, style, options);
            match place(&pen, paper, room, options, longest) {
                Ok(fitted) if faults(&fitted, paper) > 0 => {
                    spare.get_or_insert(fitted);
                    break;
                }
                Ok(fitted) => {
                    let sparse = super::ink::cells(&fitted.items, paper) < SPARSE;
                    let on = (paper, room);
                    let larger = enlarged(parts, figures, words, style, on, options, sparse);
                    return Some(larger.unwrap_or(fitted));
                }
                Err(Miss::High) => {
                    too_high.push((group, narrow));
                    break;
                }
                Err(Miss::Broad | Miss::Crossed) => break,
                Err(Miss::Long) => *long = true,
                Err(Miss::Lost) => lost += 1,
            }
        }
    }
    // a schedule is the last resort: better that with a fault than nothing
    spare.filter(|_| style.level == super::style::Level::Schedule)
}

/// What would make a sheet hard to read.
fn faults(fitted: &Fitted, paper: Paper) -> usize {
    let frame = super::sheet::frame(paper);
    super::audit::audit(&fitted.items, paper, fitted.scale, frame).faults()
}

/// The same layout at a larger scale, if it fits without folding; what is sparse may have its labels in more lines.
fn enlarged(
    parts: &[Part],
    figures: &Figures,
    words: &mut Words,
    style: &Style,
    (paper, room): (Paper, Rect),
    options: Options,
    sparse: bool,
) -> Option<Fitted> {
    if options.fold > 0 {
        return None;
    }
    let larger = LARGER.iter().filter(|s| **s > paper.scale() + 1e-9);
    for &scale in larger {
        if scale > 1.5 && (!sparse || paper == Paper::A4) {
            continue;
        }
        for narrow in [options.narrow, options.narrow || sparse] {
            words.narrow = narrow;
            let options = Options {
                lettering: lettering(scale),
                least: least(paper, scale),
                scale,
                narrow,
                ..options
            };
            let pen = lay(parts, figures, words, style, options);
            if let Ok(fitted) = place(&pen, paper, room, options, LONGEST)
                && faults(&fitted, paper) == 0
            {
                return Some(fitted);
            }
        }
    }
    words.narrow = options.narrow;
    None
}

/// Attempts in order: unfolded before folded, wide labels before narrow ones, rows by themselves before shared lines.
fn orders<'a>(
    groups: &'a [usize],
    folds: &'a [usize],
) -> impl Iterator<Item = (&'a usize, usize, bool)> {
    groups.iter().flat_map(move |g| {
        folds
            .iter()
            .flat_map(move |&f| [false, true].map(|narrow| (g, f, narrow)))
    })
}

fn most_levels(row: &super::plan::Row) -> usize {
    row.end.as_ref().map_or(0, |s| {
        s.rows.len() + s.rows.iter().map(most_levels).max().unwrap_or(0)
    })
}

fn longest_row(row: &super::plan::Row) -> usize {
    let inner = row.cells.iter().map(|c| match &c.body {
        super::plan::Body::Nested(r) => longest_row(r),
        _ => 0,
    });
    let end = row.end.iter().flat_map(|s| s.rows.iter()).map(longest_row);
    let own = if row.end.is_some() {
        0
    } else {
        row.cells.len()
    };
    inner.chain(end).max().unwrap_or(0).max(own)
}

fn extent(axis: &Axis, k: f64) -> Option<(Vec<f64>, f64)> {
    let pos = axis.solve(k)?;
    let most = pos.iter().copied().fold(0.0, f64::max);
    Some((pos, most))
}

/// The largest share of slack that still fits.
fn spread(axis: &Axis, limit: f64, most: f64) -> f64 {
    let (mut low, mut high) = (0.0, most);
    for _ in 0..18 {
        let middle = (low + high) / 2.0;
        match extent(axis, middle) {
            Some((_, size)) if size <= limit => low = middle,
            _ => high = middle,
        }
    }
    low
}

/// Loops that the plant adds to those of the rows: cylinders, vessels with more ports, exchangers, bypasses.
fn plant_loops(items: &[Item]) -> usize {
    use super::scene::Shape;
    let plant = |i: &&Item| {
        matches!(i, Item::Symbol(s) if matches!(
            s.shape,
            Shape::Cylinder | Shape::Vessel | Shape::Exchanger | Shape::Bypass
        ))
    };
    items.iter().filter(plant).count()
}

/// Why an attempt does not do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Miss {
    /// Higher than its room: folding makes it higher still.
    High,
    /// Broader than its room.
    Broad,
    /// More pipe than the eye follows.
    Long,
    /// More hops than rows and plant explain.
    Crossed,
    /// A link found no way.
    Lost,
}

/// Solve and draw.
fn place(
    pen: &Pen,
    paper: Paper,
    room: Rect,
    options: Options,
    longest: f64,
) -> Result<Fitted, Miss> {
    let s = options.scale;
    let (w, h) = (room.w / s, room.h / s);
    let (_, least_w) = extent(&pen.x, 0.0).ok_or(Miss::Broad)?;
    let (_, least_h) = extent(&pen.y, 0.0).ok_or(Miss::Broad)?;
    if least_h > h {
        return Err(Miss::High);
    }
    if least_w > w {
        return Err(Miss::Broad);
    }
    let slack = |k: f64| (spread(&pen.x, w, 40.0 * k), spread(&pen.y, h, 60.0 * k));
    let (mut kx, mut ky) = slack(1.0);
    let mut wide = false;
    let diagonal = (paper.size_mm().0.powi(2) + paper.size_mm().1.powi(2)).sqrt();
    let mut drawn = Vec::new();
    let mut places = BTreeMap::new();
    for _ in 0..6 {
        let (xs, size_x) = extent(&pen.x, kx).ok_or(Miss::Broad)?;
        let (ys, size_y) = extent(&pen.y, ky).ok_or(Miss::Broad)?;
        let frame = Frame {
            x: room.x + (room.w - size_x * s).max(0.0) / 2.0,
            // in the middle, but never so low that what is inside the frame becomes a strip
            y: room.y
                + ((room.h - size_y * s).max(0.0) / 2.0).min(super::sheet::lowest(paper, room.y)),
            scale: s,
        };
        drawn = items(pen, &xs, &ys, frame, room).ok_or(Miss::Lost)?;
        places = corners(pen, &xs, &ys, frame);
        if super::audit::pipe_length(&drawn) / diagonal <= LONGEST {
            // little on the sheet: more of the slack is shared out
            if wide || super::ink::cells(&drawn, paper) >= SPARSE {
                break;
            }
            wide = true;
            (kx, ky) = slack(4.0);
            continue;
        }
        (kx, ky) = (kx * 0.6, ky * 0.6);
    }
    if super::audit::pipe_length(&drawn) / diagonal > longest {
        return Err(Miss::Long);
    }
    // as long as another folding or several sheets can do with fewer
    let hops: usize = drawn.iter().map(hops_of).sum();
    if longest.is_finite() && hops > pen.rows + plant_loops(&drawn) {
        return Err(Miss::Crossed);
    }
    let mut notes = Vec::new();
    if options.fold > 0 {
        notes.push(format!("rows folded at {} columns", options.fold));
    }
    if pen.paired.iter().any(|p| *p) {
        notes.push("return as flow if blank".into());
    }
    Ok(Fitted {
        plant_loops: plant_loops(&drawn),
        items: drawn,
        rows: pen.rows,
        notes,
        key_rows: 0,
        scale: s,
        places,
        room,
    })
}

fn hops_of(item: &Item) -> usize {
    match item {
        Item::Stroke(stroke) => stroke.hops.len(),
        _ => 0,
    }
}

/// Where places are on the sheet.
fn corners(pen: &Pen, xs: &[f64], ys: &[f64], frame: Frame) -> BTreeMap<usize, Vec<Pt>> {
    let on_sheet = |c: &super::pen::Corner| {
        let (x, y) = (xs[c.0.0] + c.0.1, ys[c.1.0] + c.1.1);
        pt(frame.x + frame.scale * x, frame.y + frame.scale * y)
    };
    let all = pen.at.iter();
    all.map(|(p, at)| (*p, at.iter().map(on_sheet).collect()))
        .collect()
}
