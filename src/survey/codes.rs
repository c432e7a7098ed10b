//! Every code that a diagnostic may carry, with what it means. A test holds each to a case under `tests/data/bad`, and
//! finds no code in the program that is missing here.

/// Code and meaning, in the order in which a file is read.
pub const CODES: &[(&str, &str)] = &[
    ("file-empty", "The file says nothing."),
    ("file-binary", "The file is not text."),
    ("file-too-large", "The file is far larger than any house."),
    ("syntax", "A line cannot be read as TOML."),
    (
        "duplicate-key",
        "A name or key is written twice in one table.",
    ),
    ("unknown-section", "A network file has no such heading."),
    ("unknown-key", "A table has no such key."),
    ("wrong-type", "A list where a text belongs, and the like."),
    ("value-missing", "Nothing is written where a value belongs."),
    ("number-expected", "A word where a number belongs."),
    (
        "number-comma",
        "A comma in a number; the decimal sign is a point.",
    ),
    ("number-not-finite", "Infinite, not a number, or too large."),
    (
        "number-negative",
        "Less than zero, where that means nothing.",
    ),
    ("number-zero", "Zero, where something must be there."),
    (
        "unit-missing",
        "A flow, head, pressure, energy or time without its unit.",
    ),
    ("unit-unknown", "No unit is spelt so."),
    ("unit-wrong-kind", "The unit of something else."),
    ("unknown-word", "None of the words that are known here."),
    ("key-missing", "A key that must be there is not."),
    ("key-does-not-fit", "A key that goes with something else."),
    ("price-unknown", "A price of nothing that is known."),
    ("price-twice", "Two prices for one thing."),
    ("price-unit", "A price per something else."),
    ("price-currency", "Prices in more than one currency."),
    ("wall-size", "A wall on which no radiator could hang."),
    ("opening-twice", "A run that lies in two openings."),
    (
        "limits-contradict",
        "Two limits that nothing can keep at once.",
    ),
    ("leg-empty", "A leg says nothing."),
    ("leg-pipe-missing", "A leg does not begin with its pipe."),
    ("leg-length-missing", "A leg has no length."),
    (
        "leg-unreadable",
        "A leg holds more mistakes than are worth listing.",
    ),
    ("unknown-pipe", "The catalogue has no such pipe."),
    ("bore-guess", "A guessed bore without its range."),
    (
        "roughness-too-large",
        "A roughness of half the bore or more.",
    ),
    ("odds-wrong", "Odds outside 0 to 1."),
    (
        "odds-missing",
        "Some alternatives have odds and some have none.",
    ),
    ("odds-sum", "Odds that do not add to 1."),
    ("range-reversed", "A range that begins with its larger end."),
    ("count-wrong", "Not a number of fittings."),
    ("item-missing", "A number with no fitting after it."),
    ("side-wrong", "`on` something other than flow or return."),
    ("share-wrong", "A share outside what it can be."),
    (
        "loss-flow-missing",
        "A loss without the flow at which it is met.",
    ),
    (
        "exponent-wrong",
        "A loss that grows as no loss of water does.",
    ),
    ("insert-too-wide", "An insert wider than its pipe."),
    ("place-twice", "A leg that lies in two places."),
    ("storey-missing", "`storey` without a name."),
    (
        "holds-missing",
        "A flow-holding valve that does not say what it holds.",
    ),
    ("at-missing", "A head without the flow it is met at."),
    ("curve-one-point", "A curve of fewer than two points."),
    ("curve-order", "Points whose flow does not rise."),
    ("curve-rises", "More head at more flow."),
    ("curve-coefficients", "Coefficients that make no curve."),
    ("head-twice", "Free head and total head of one source."),
    (
        "no-head",
        "A source without a head curve: its pump cannot be judged.",
    ),
    ("flow-range", "A greatest or nominal flow below the least."),
    ("output-range", "A least output above the output."),
    (
        "glycol-share",
        "Glycol without its share, or with more than the tables know.",
    ),
    (
        "unknown-place",
        "A place met only once, or one that has no sides.",
    ),
    ("leads-nowhere", "A run at whose end nothing is joined."),
    ("unknown-emitter", "No emitter has this name."),
    ("unknown-room", "No room has this name."),
    ("unknown-zone", "No zone has this name."),
    ("unknown-pair", "No pair or run has this name."),
    (
        "unknown-name",
        "Nothing that could stand here has this name.",
    ),
    ("unknown-limit", "The catalogue has no such limit."),
    (
        "valve-table",
        "A valve's table whose lists do not belong together or do not rise.",
    ),
    ("reading-wrong", "A reading that cannot be."),
    ("duplicate-name", "Two things share a name."),
    ("emitter-as-place", "A pair that ends at an emitter."),
    ("emitter-not-joined", "An emitter that hangs on nothing."),
    (
        "emitter-kind-missing",
        "An emitter that does not say what it can give.",
    ),
    (
        "emitter-two-kinds",
        "An emitter that is two things at once.",
    ),
    ("joined-twice", "An emitter joined in two ways."),
    (
        "like-cycle",
        "An emitter that is like itself, or a chain of likes without end.",
    ),
    ("panel-type", "No panel radiator of this type."),
    (
        "panel-size",
        "A size that is not one, or that the catalogue does not have.",
    ),
    ("rating", "Rating conditions that cannot be."),
    ("route-parts", "A pair or run that is not from, to, leg."),
    ("run-to-itself", "A run that begins where it ends."),
    ("side-missing", "Flow or return is not said."),
    ("crossed", "Flow and return are crossed."),
    (
        "ring-order",
        "A reverse return whose two pipes differ in order.",
    ),
    ("ring-not-closed", "A ring that does not come home."),
    (
        "walk-order",
        "Legs and names of a ring or loop that do not stand in turn.",
    ),
    ("zone-empty", "A zone that shuts nothing."),
    ("no-source", "A file without a source of heat."),
    ("not-joined", "A part of the house that no source feeds."),
    ("not-closed", "A circuit that does not close."),
    (
        "sources-together",
        "Two sources on one circuit with nothing between them.",
    ),
    (
        "exchanger-joined",
        "An exchanger whose two sides are one circuit.",
    ),
    ("two-fluids", "Two fluids in one circuit."),
    (
        "blend-without-pump",
        "A manifold that blends without a pump.",
    ),
    (
        "blend-above-flow",
        "A manifold that blends to more than the flow temperature.",
    ),
    (
        "floor-heat-missing",
        "A floor loop that says neither its heat nor its area.",
    ),
    ("zone-pump-on-several", "One zone pump on several pairs."),
    ("ask-long", "A very long run."),
    (
        "ask-flow-temperature",
        "A flow temperature that few heat pumps make.",
    ),
    (
        "ask-guess",
        "A `?` for which the catalogue knows no other pipe.",
    ),
    (
        "ask-count",
        "A plain number right before a fitting: a length or a count.",
    ),
    ("ask-drop", "A drop outside the usual."),
    ("ask-outside", "A mild or polar design day."),
    ("ask-room", "A room hotter or colder than rooms are."),
    ("ask-power", "A few watts, where kW may be meant."),
    ("ask-needs", "A need of several times the rated output."),
    ("ask-output", "A source many times larger than the need."),
    (
        "ask-least-flow",
        "A least flow that belongs to a larger unit.",
    ),
    ("ask-head", "A pump far stronger or weaker than usual."),
    ("ask-kv", "A kv that no valve of that size has."),
    ("ask-water", "A thousand litres and more."),
];

/// Codes that only a file of claims can earn; their cases stand under `tests/data/claims/bad`.
pub const CLAIMS: &[(&str, &str)] = &[
    ("claims-none", "A file in which nothing is claimed."),
    ("claim-twice", "Two claims for one thing."),
    (
        "claim-unknown",
        "A claim for something that is not in the network file.",
    ),
    ("claim-unclear", "A name that several pipes share."),
    (
        "claim-column",
        "A column that is no claim, or a value where none belongs.",
    ),
    ("claim-row", "A row with more cells than headings."),
    ("claim-share", "A share that may be percent or a fraction."),
    (
        "number-ambiguous",
        "A sign that may be decimal or part thousands.",
    ),
];

/// Codes of mistakes that the reader already finds by another code, so that no text leads to them: they are said only of
/// a survey that was put together by hand.
pub const INNER: &[(&str, &str)] = &[
    (
        "own-loss-missing",
        "A total head without the unit's own loss.",
    ),
    (
        "ua-missing",
        "An exchanger that does not say what it carries.",
    ),
    (
        "unknown-condition",
        "An age or condition that this pipe does not know.",
    ),
    ("unknown-item", "No fitting or device has this word."),
];
