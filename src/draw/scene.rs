//! A sheet as a list of things at fixed places: what layout hands to SVG. No position is decided after this.

use super::style::{Paper, Theme};

/// A point, mm from the top left corner of the sheet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pt {
    /// To the right.
    pub x: f64,
    /// Downwards.
    pub y: f64,
}

/// Short for a point.
pub fn pt(x: f64, y: f64) -> Pt {
    Pt { x, y }
}

/// A box, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rect {
    /// Left.
    pub x: f64,
    /// Top.
    pub y: f64,
    /// Width.
    pub w: f64,
    /// Height.
    pub h: f64,
}

impl Rect {
    /// From corners in any order.
    pub fn of(a: Pt, b: Pt) -> Self {
        Self {
            x: a.x.min(b.x),
            y: a.y.min(b.y),
            w: (a.x - b.x).abs(),
            h: (a.y - b.y).abs(),
        }
    }

    /// Right edge.
    pub fn right(&self) -> f64 {
        self.x + self.w
    }

    /// Lower edge.
    pub fn bottom(&self) -> f64 {
        self.y + self.h
    }

    /// Whether two boxes share more than `slack` in both directions.
    pub fn overlaps(&self, other: &Rect, slack: f64) -> bool {
        self.right().min(other.right()) - self.x.max(other.x) > slack
            && self.bottom().min(other.bottom()) - self.y.max(other.y) > slack
    }

    /// The box grown by `d` on all sides.
    pub fn grow(&self, d: f64) -> Rect {
        Rect {
            x: self.x - d,
            y: self.y - d,
            w: self.w + 2.0 * d,
            h: self.h + 2.0 * d,
        }
    }
}

/// What an item is about; gives its id and its words.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum About {
    /// A run, by index.
    Run(usize),
    /// An emitter, by index.
    Emitter(usize),
    /// A source, by index.
    Source(usize),
    /// A cylinder, by index.
    Cylinder(usize),
    /// A vessel, by index.
    Vessel(usize),
    /// An exchanger, by index.
    Exchanger(usize),
    /// A manifold, by index.
    Manifold(usize),
    /// A device, by element and the number of its part.
    Device(u32, u32),
    /// A way that goes on at a place that is drawn elsewhere, by index.
    Place(usize),
    /// An off-sheet arrow by its number, and whether it is the flow's.
    Away(usize, bool),
    /// The sheet itself: frame, key, summary.
    Sheet,
}

/// Which way the water of a pipe goes, for its colour and dash.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Water {
    /// Towards the emitters.
    Flow,
    /// Back to the source.
    Return,
}

/// A pipe as a stroke.
#[derive(Clone, Debug, PartialEq)]
pub struct Stroke {
    /// Corners, in the direction of flow.
    pub points: Vec<Pt>,
    /// Where it hops over another: number of its straight piece, and the point.
    pub hops: Vec<(usize, Pt)>,
    /// Radius of its hops.
    pub hop_radius: f64,
    /// Line width, mm, of the series of ISO 128.
    pub width: f64,
    /// Flow or return.
    pub water: Water,
    /// Drawn double: it fails.
    pub double: bool,
    /// On the index circuit.
    pub index: bool,
    /// Draws from the return for a mixing set.
    pub mixes: bool,
    /// A plan changes it.
    pub changed: bool,
    /// Carries no water in the state drawn.
    pub idle: bool,
    /// The points go against the run's written direction.
    pub against: bool,
    /// The run, or `Sheet` for a joint bar.
    pub about: About,
}

/// Shapes of symbols.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum Shape {
    Pump,
    Valve,
    ShutValve,
    ThreePort,
    Motorised,
    Thermostatic,
    Lockshield,
    Balancing,
    Check,
    Bypass,
    FlowHolder,
    Strainer,
    /// Square with trade letters.
    Letters(&'static str),
    Radiator,
    FloorLoop,
    FanConvector,
    TowelRail,
    FixedLoad,
    HeatPump,
    /// A heat source with its own pump within one casing.
    Casing,
    Cylinder,
    Vessel,
    VesselInline,
    Exchanger,
    ManifoldBar,
    Changed,
    DeadEnd,
    /// The drawing goes on on another sheet.
    Away,
}

/// A symbol.
#[derive(Clone, Debug, PartialEq)]
pub struct Symbol {
    /// What it looks like.
    pub shape: Shape,
    /// Its box; devices fill it, blocks are as large as it.
    pub rect: Rect,
    /// Direction of flow through it: quarter turns clockwise from "to the right".
    pub turn: u8,
    /// What it is.
    pub about: About,
    /// Its name in words, for hover and for those who listen.
    pub words: String,
    /// Drawn shut in this state.
    pub shut: bool,
    /// No water moves through it in this state: drawn thin.
    pub dead: bool,
    /// Sheet millimetres per layout unit, for details that do not grow with the box.
    pub scale: f64,
}

/// Which sort of lettering.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Letter {
    /// Figures at pipes.
    Value,
    /// Names.
    Name,
    /// Small print.
    Note,
    /// The title.
    Title,
}

/// One line of a label.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Its words.
    pub text: String,
    /// Bold: a name, or the figure that decides.
    pub bold: bool,
}

/// Where lines stand within their box.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Align {
    /// From the left edge.
    Left,
    /// In the middle.
    Middle,
    /// To the right edge.
    Right,
}

/// A text in its reserved box.
#[derive(Clone, Debug, PartialEq)]
pub struct Label {
    /// The box reserved for it.
    pub rect: Rect,
    /// Lines, top to bottom.
    pub lines: Vec<Line>,
    /// Height of its capitals, mm.
    pub cap: f64,
    /// Sort of lettering.
    pub letter: Letter,
    /// Where lines stand.
    pub align: Align,
    /// The first line begins this much further in: a mark stands there.
    pub indent: f64,
    /// What it is about.
    pub about: About,
    /// Its full words, if they had to be shortened.
    pub full: Option<String>,
}

/// Status marks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum MarkKind {
    Fails,
    Depends,
    Tight,
    Holds,
    NotShown,
    Changed,
}

/// A thing on the sheet.
#[derive(Clone, Debug, PartialEq)]
pub enum Item {
    /// A pipe.
    Stroke(Stroke),
    /// A symbol.
    Symbol(Symbol),
    /// A text.
    Label(Label),
    /// A tee, with its diameter.
    Dot(Pt, f64),
    /// Direction of flow: tip, quarter turns, the water, its size.
    Arrow(Pt, u8, Water, f64),
    /// A status mark in its box.
    Mark(MarkKind, Rect, About),
    /// A thin line of frame, table or leader, with its width.
    Rule(Vec<Pt>, f64),
    /// A box of frame or table, with its line width.
    Frame(Rect, f64),
    /// A sample of the index band in the key.
    BandSample(Rect),
    /// The key's sample of the outline of what a plan changes.
    OutlineSample(Rect),
    /// A sample of a pipe in the key.
    KeyLine(Pt, Pt, Water),
}

/// What the drawing says of itself, counted from what was drawn.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Audit {
    /// Pairs of labels that overlap.
    pub text_on_text: usize,
    /// Labels crossed by a line or the edge of a shape.
    pub text_crossed: usize,
    /// Things outside the frame.
    pub outside: usize,
    /// Crossings without a hop.
    pub plain_crossings: usize,
    /// Pipes lying on one another.
    pub pipes_on_pipes: usize,
    /// Slanted pieces of pipe.
    pub slanted: usize,
    /// Symbols on symbols, or on a pipe that is not theirs.
    pub symbols_hit: usize,
    /// Crossings with a hop.
    pub hops: usize,
    /// Pipes drawn.
    pub strokes: usize,
    /// Pipes so short that they are hard to see (under 2 % of the sheet's diagonal).
    pub short: usize,
    /// Changes of direction.
    pub bends: usize,
    /// Most changes of direction of one pipe.
    pub bends_max: usize,
    /// Smallest capitals, mm.
    pub smallest_cap: f64,
    /// Length of all pipes over the sheet's diagonal.
    pub length_rel: f64,
    /// Width over height of what is inside the frame.
    pub aspect: f64,
    /// Share of the cells of a grid of 48 columns over the sheet with ink in them.
    pub cells: f64,
    /// The first few faults in words.
    pub said: Vec<String>,
}

impl Audit {
    /// Faults that may never be.
    pub fn faults(&self) -> usize {
        self.text_on_text
            + self.text_crossed
            + self.outside
            + self.plain_crossings
            + self.pipes_on_pipes
            + self.slanted
            + self.symbols_hit
    }
}

/// A sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Scene {
    /// Paper.
    pub paper: Paper,
    /// Sheet millimetres per layout unit: lettering of figures is 2.5 units.
    pub scale: f64,
    /// Colours.
    pub theme: Theme,
    /// Title for those who hover or listen.
    pub title: String,
    /// A sentence or two: system, emitters, index circuit, what fails.
    pub desc: String,
    /// Everything on it, in the order of reading.
    pub items: Vec<Item>,
    /// Words for hover and listening, by thing.
    pub words: Vec<(About, String)>,
    /// Anchors, by thing.
    pub ids: Vec<(About, String)>,
    /// Number of rows of emitters that were laid out.
    pub rows: usize,
    /// Loops of the plant: what may cost a hop beside the rows.
    pub plant_loops: usize,
    /// How it was made to fit, in words.
    pub fitted: Vec<String>,
    /// Counted from the items.
    pub audit: Audit,
}
