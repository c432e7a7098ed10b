//! What may be chosen about a drawing.

use crate::network::ElementId;

/// How much a drawing says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Level {
    /// Diameters and names: for a client.
    Overview,
    /// With flow, velocity, output and devices: for checking a design.
    Normal,
    /// With length, loss, valves and temperatures: for the record.
    Full,
    /// Numbers on the drawing, figures in a table beside it: for large systems.
    Schedule,
}

/// Paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Paper {
    /// 297 × 210 mm.
    A4,
    /// 420 × 297 mm.
    A3,
    /// 594 × 420 mm.
    A2,
    /// 841 × 594 mm.
    A1,
}

impl Paper {
    /// All, smallest first.
    pub const ALL: [Paper; 4] = [Paper::A4, Paper::A3, Paper::A2, Paper::A1];

    /// Width and height, mm, landscape (ISO 216).
    pub fn size_mm(self) -> (f64, f64) {
        match self {
            Paper::A4 => (297.0, 210.0),
            Paper::A3 => (420.0, 297.0),
            Paper::A2 => (594.0, 420.0),
            Paper::A1 => (841.0, 594.0),
        }
    }

    /// `A4` and so on.
    pub fn name(self) -> &'static str {
        match self {
            Paper::A4 => "A4",
            Paper::A3 => "A3",
            Paper::A2 => "A2",
            Paper::A1 => "A1",
        }
    }

    /// Sheet millimetres per layout unit: a layout unit is 1 mm at lettering of 2.5 mm; on A4 the lettering is 1.8 mm.
    pub fn scale(self) -> f64 {
        if self == Paper::A4 { 0.72 } else { 1.0 }
    }
}

/// Colours.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Theme {
    /// Light, dark where the viewer asks for it, light in print.
    Auto,
    /// Light only.
    Light,
    /// Dark only.
    Dark,
    /// Ink only: dashes, widths and marks carry everything.
    Ink,
}

/// Which of the two views the figures are from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shows {
    /// What the emitters' duty requires of every pipe.
    Required,
    /// How the house runs.
    Running,
}

/// What is drawn and how.
#[derive(Clone, Debug, PartialEq)]
pub struct Style {
    /// How much it says.
    pub level: Level,
    /// Paper; the smallest of A4 and A3 that holds the level, then larger, if `None`.
    pub paper: Option<Paper>,
    /// Colours.
    pub theme: Theme,
    /// Decimal sign.
    pub decimal: char,
    /// Which view the figures are from, if both are given.
    pub shows: Shows,
    /// Status marks beside labels, and double lines for what fails.
    pub marks: bool,
    /// Show a tick on what holds, too.
    pub ticks: bool,
    /// Elements shut in the state drawn, beyond those shut always.
    pub shut: Vec<ElementId>,
    /// Runs that a plan changes, by index, with the words beside their mark: `was 22 Cu`, `to be 28 Cu`.
    pub changed: Vec<(usize, String)>,
    /// Emitters that a plan changes, by index, likewise: `was 22 600×1600`, `to be valve kv 1.1`.
    pub changed_emitters: Vec<(usize, String)>,
    /// Second pipes that are not drawn, since the pipe beside which they lie tells of them: their index and its.
    pub folded: Vec<(usize, usize)>,
    /// Name of the state or plan, printed under the title.
    pub subtitle: String,
}

impl Default for Style {
    fn default() -> Self {
        Self {
            level: Level::Normal,
            paper: None,
            theme: Theme::Auto,
            decimal: '.',
            shows: Shows::Required,
            marks: true,
            ticks: false,
            shut: Vec::new(),
            changed: Vec::new(),
            changed_emitters: Vec::new(),
            folded: Vec::new(),
            subtitle: String::new(),
        }
    }
}
