//! One document of a house: job, inputs, verdict, drawing, schedules, findings, settings, cautions, traces. It is put
//! together from blocks that know no format; HTML and Markdown are made of the same blocks.

mod content;
mod css;
mod figure;
mod html;
mod inputs;
mod markdown;
mod pieces;
mod schedule;
mod settings;
mod traces;

pub use html::html;
pub use markdown::markdown;

use super::speak::Speak;
use crate::balance::Balance;
use crate::check::Study;
use crate::plan::upsize::Upsize;
use crate::shut::Shut;
use crate::trace::What;
use sha2::{Digest, Sha256};

/// Parts of the document that can be chosen, in their order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Section {
    /// Whether it works, and what decides.
    Verdict,
    /// What stands in the way.
    Findings,
    /// What to change.
    Plan,
    /// Job and basis of the design.
    Job,
    /// Safety.
    Cautions,
    /// The schematic.
    Drawing,
    /// Valve settings and the commissioning sheet.
    Settings,
    /// What happens when valves close.
    Valves,
    /// Every run and every emitter.
    Schedules,
    /// What the file says: seen, measured, stated, guessed.
    Inputs,
    /// Pump, pressure and capacity as plots.
    Plots,
    /// Defaults, methods, checks and limits with their sources.
    Assumptions,
    /// Every key figure to its inputs.
    Traces,
}

impl Section {
    /// All, in the order of the document: what matters first, then what proves it.
    pub const ALL: [Section; 13] = [
        Section::Verdict,
        Section::Findings,
        Section::Plan,
        Section::Job,
        Section::Cautions,
        Section::Drawing,
        Section::Settings,
        Section::Valves,
        Section::Schedules,
        Section::Inputs,
        Section::Plots,
        Section::Assumptions,
        Section::Traces,
    ];

    /// The word by which it is chosen.
    pub fn word(self) -> &'static str {
        match self {
            Section::Verdict => "verdict",
            Section::Job => "job",
            Section::Findings => "findings",
            Section::Plan => "plan",
            Section::Drawing => "drawing",
            Section::Plots => "plots",
            Section::Schedules => "schedules",
            Section::Inputs => "inputs",
            Section::Settings => "settings",
            Section::Valves => "valves",
            Section::Assumptions => "assumptions",
            Section::Cautions => "cautions",
            Section::Traces => "traces",
        }
    }

    /// Its heading.
    fn heading(self) -> &'static str {
        match self {
            Section::Verdict => "Verdict",
            Section::Job => "Job and basis",
            Section::Findings => "Findings",
            Section::Plan => "What to change",
            Section::Drawing => "Schematic",
            Section::Plots => "Plots",
            Section::Schedules => "Schedules",
            Section::Inputs => "Inputs: seen, measured, stated, guessed",
            Section::Settings => "Settings and commissioning sheet",
            Section::Valves => "When valves close",
            Section::Assumptions => "Assumptions, methods, checks and limits",
            Section::Cautions => "Before you touch anything",
            Section::Traces => "How the figures came about",
        }
    }
}

/// Whom the document is for: how deep it goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reader {
    /// Who pays: the verdict, the drawing, what to change.
    Client,
    /// Who does the work: schedules, settings, what to look at first.
    Installer,
    /// Who has to be convinced: everything, every figure traced.
    Reviewer,
}

impl Reader {
    /// Sections that it gets if none are chosen.
    pub fn sections(self) -> Vec<Section> {
        let leaves_out: &[Section] = match self {
            Reader::Client => &[
                Section::Plots,
                Section::Schedules,
                Section::Settings,
                Section::Valves,
            ],
            Reader::Installer => &[Section::Plots],
            Reader::Reviewer => &[],
        };
        Section::ALL
            .into_iter()
            .filter(|s| !leaves_out.contains(s))
            .collect()
    }
}

/// What may be chosen about a document.
#[derive(Clone, Debug)]
pub struct Choice {
    /// Whom it is for.
    pub reader: Reader,
    /// Its sections.
    pub sections: Vec<Section>,
    /// Only one state of the house, by index.
    pub state: Option<usize>,
}

/// What a document is made of.
#[derive(Clone, Copy, Debug)]
pub struct Material<'a> {
    /// The house looked at from all sides.
    pub study: &'a Study,
    /// The text of the file, for its lines and its digest.
    pub source: &'a str,
    /// Name of the file.
    pub file: &'a str,
    /// What happens when valves close, or why that is not known.
    pub shut: Result<&'a Shut, &'a str>,
    /// What to change, or why that is not known.
    pub plan: Result<&'a Upsize, &'a str>,
    /// How it is set, or why that is not known.
    pub balance: Result<&'a Balance, &'a str>,
}

/// A piece of text, perhaps with a way to another place of the document.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Text {
    pub words: String,
    pub to: Option<String>,
}

impl From<String> for Text {
    fn from(words: String) -> Self {
        Self { words, to: None }
    }
}

impl From<&str> for Text {
    fn from(words: &str) -> Self {
        words.to_owned().into()
    }
}

impl Text {
    fn to(words: impl Into<String>, anchor: Option<String>) -> Self {
        Self {
            words: words.into(),
            to: anchor,
        }
    }
}

/// A table: what it is, headings (a unit in the words), rows; the first cell of a row is its heading.
#[derive(Clone, Debug, PartialEq, Default)]
pub(crate) struct Table {
    pub caption: String,
    /// Heading, and whether the column holds numbers.
    pub heads: Vec<(String, bool)>,
    /// Anchor of the row, cells.
    pub rows: Vec<(Option<String>, Vec<Text>)>,
    /// It is looked things up in, not read: small in print.
    pub fine: bool,
}

/// Room that a drawing wants.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Room {
    /// A sheet on its side.
    Sheet,
    /// The width of the page.
    Whole,
    /// Half of it.
    Half,
}

/// One block of the document.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Block {
    /// A section's heading, with its anchor.
    Section(&'static str, String),
    /// A lesser heading, with its anchor.
    Heading(Option<String>, String),
    /// A paragraph; `true` stands out.
    Paragraph(Vec<Text>, bool),
    /// A list.
    List(Vec<Vec<Text>>),
    /// A list whose order counts.
    Steps(Vec<Vec<Text>>),
    /// A table.
    Table(Table),
    /// A drawing: SVG ready to stand within HTML, what it shows, its caption, the room that it wants.
    Figure {
        svg: String,
        shows: String,
        caption: String,
        room: Room,
    },
    /// A formula with numbers, line by line.
    Formula(Vec<String>),
}

/// A document ready for either format.
pub(crate) struct Document {
    pub title: String,
    pub subtitle: String,
    pub edition: String,
    /// Sections that are there, for the contents: anchor and heading.
    pub contents: Vec<(&'static str, &'static str)>,
    /// Rules of the drawings' own style sheets, each once.
    pub drawings: Vec<String>,
    pub blocks: Vec<Block>,
}

/// Digest of a file, so that a reader can tell two editions apart: SHA-256 in hexadecimal digits.
pub fn digest(source: &str) -> String {
    Sha256::digest(source.as_bytes())
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect()
}

/// Puts a document together.
fn document(material: &Material<'_>, choice: &Choice, drawings: bool) -> Document {
    let study = material.study;
    let speak = Speak::new(study, &study.network.units);
    let digest = digest(material.source);
    let mut make = Maker {
        material,
        choice,
        speak,
        drawings,
        styles: Vec::new(),
        blocks: Vec::new(),
        figures: 0,
        traced: Vec::new(),
    };
    if choice.sections.contains(&Section::Traces) {
        make.traced = traces::wanted(&make);
    }
    let mut contents = Vec::new();
    for section in Section::ALL
        .into_iter()
        .filter(|s| choice.sections.contains(s))
    {
        let before = make.blocks.len();
        make.blocks
            .push(Block::Section(section.word(), section.heading().into()));
        make.section(section);
        if make.blocks.len() == before + 1 {
            make.blocks.pop(); // nothing to say
        } else {
            contents.push((section.word(), section.heading()));
        }
    }
    let reader = match choice.reader {
        Reader::Client => "for the client",
        Reader::Installer => "for the installer",
        Reader::Reviewer => "for the reviewer",
    };
    Document {
        title: super::layout::name(&study.network.title, 200),
        subtitle: format!("Heating pipework, {reader}"),
        edition: format!(
            "{}. Inputs: {}, SHA-256 {digest}.",
            super::MADE_BY,
            super::layout::name(material.file, 200)
        ),
        contents,
        drawings: make.styles,
        blocks: make.blocks,
    }
}

/// What the sections are made with.
struct Maker<'a> {
    material: &'a Material<'a>,
    choice: &'a Choice,
    speak: Speak<'a>,
    /// Whether drawings are wanted.
    drawings: bool,
    styles: Vec<String>,
    blocks: Vec<Block>,
    figures: usize,
    /// What has a trace in this document.
    traced: Vec<(What, Option<usize>)>,
}

impl<'a> Maker<'a> {
    fn study(&self) -> &'a Study {
        self.material.study
    }

    fn section(&mut self, section: Section) {
        match section {
            Section::Verdict => self.verdict(),
            Section::Job => self.job(),
            Section::Findings => self.findings(),
            Section::Plan => self.plan(),
            Section::Drawing => self.drawing(),
            Section::Plots => self.plots(),
            Section::Schedules => self.schedules(),
            Section::Inputs => self.inputs(),
            Section::Settings => self.settings(),
            Section::Valves => self.valves(),
            Section::Assumptions => self.assumptions(),
            Section::Cautions => self.cautions(),
            Section::Traces => self.traces(),
        }
    }

    fn paragraph(&mut self, words: impl Into<Text>) {
        self.blocks
            .push(Block::Paragraph(vec![words.into()], false));
    }

    fn heading(&mut self, words: &str) {
        self.blocks.push(Block::Heading(None, words.into()));
    }

    fn list(&mut self, items: Vec<String>) {
        if !items.is_empty() {
            let items = items.into_iter().map(|item| vec![item.into()]).collect();
            self.blocks.push(Block::List(items));
        }
    }

    fn table(&mut self, table: Table) {
        if !table.rows.is_empty() {
            self.blocks.push(Block::Table(table));
        }
    }

    /// Way to the trace of a thing, if the document has one.
    fn way(&self, what: What, state: Option<usize>) -> Option<String> {
        let found = self
            .traced
            .iter()
            .position(|(w, s)| *w == what && (*s == state || s.is_none() || state.is_none()));
        found.map(traces::anchor)
    }
}

impl Table {
    /// With a caption and headings; those that begin with `#` stand over numbers.
    fn new(caption: impl Into<String>, heads: &[&str]) -> Self {
        Self {
            caption: caption.into(),
            heads: heads
                .iter()
                .map(|h| (h.trim_start_matches('#').to_owned(), h.starts_with('#')))
                .collect(),
            rows: Vec::new(),
            fine: false,
        }
    }

    /// The same, small in print.
    fn fine(mut self) -> Self {
        self.fine = true;
        self
    }

    fn row(&mut self, cells: Vec<Text>) {
        self.rows.push((None, cells));
    }
}
